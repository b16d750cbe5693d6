"""Pages to print or to mail, and what the heats of a works say this week."""

from gradekit.core.rooms import open_room

open_room(__name__, {"heats_report": "HeatsReport heats_report"})
