"""Which question a tab of the browser holds, so that it comes back after a reload."""

from __future__ import annotations

import anywidget
import traitlets


class Held(anywidget.AnyWidget):
    """Remembers in the tab itself, not in its address, the name of the question it shows.

    Attributes
    ----------
    name : str
        Of the present question; the tab keeps it.
    held : str
        What the tab held when the panel came to stand in it; '-' for nothing.
    """

    _esm = """
    function render({ model }) {
      const key = `gradekit ${model.get("panel")} ${location.pathname}`;
      const put = () => {
        if (model.get("name")) sessionStorage.setItem(key, model.get("name"));
      };
      model.on("change:name", put);
      const held = sessionStorage.getItem(key);
      if (!held) put();
      model.set("held", held || "-");
      model.save_changes();
      return () => model.off("change:name", put);
    }
    export default { render };
    """
    panel = traitlets.Unicode().tag(sync=True)
    name = traitlets.Unicode().tag(sync=True)
    held = traitlets.Unicode().tag(sync=True)
