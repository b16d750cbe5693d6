"""Which steel a composition is."""

from gradekit.core.rooms import open_room

open_room(__name__, {})
