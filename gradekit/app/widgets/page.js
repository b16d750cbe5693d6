// HTML that changes in place: only what differs from the last page is touched, so that a step costs
// what it changes, and a selection, an opened part and a scrolled table stay as the reader left them.

// Whether a part was opened is the reader's to say.
const kept = (node, attribute) => node.nodeName === "DETAILS" && attribute.name === "open";

function dress(old, next) {
  for (const attribute of next.attributes) {
    if (kept(old, attribute)) continue;
    if (old.getAttribute(attribute.name) !== attribute.value) {
      old.setAttributeNodeNS(attribute.cloneNode());
    }
  }
  for (const attribute of [...old.attributes]) {
    if (!kept(old, attribute) && !next.hasAttribute(attribute.name)) {
      old.removeAttributeNode(attribute);
    }
  }
}

function change(parent, wanted) {
  let old = parent.firstChild;
  for (const next of [...wanted.childNodes]) {
    const after = old?.nextSibling;
    if (!old) {
      parent.append(next);
    } else if (old.nodeType !== next.nodeType || old.nodeName !== next.nodeName) {
      old.replaceWith(next);
    } else if (next.nodeType === Node.ELEMENT_NODE) {
      dress(old, next);
      change(old, next);
    } else if (old.data !== next.data) {
      old.data = next.data;
    }
    old = after;
  }
  while (old) {
    const after = old.nextSibling;
    old.remove();
    old = after;
  }
}

// A number that can be asked is a button here, and plain text wherever no kernel answers.
function pressable(content) {
  for (const span of content.querySelectorAll("span[data-number]")) {
    const press = document.createElement("button");
    press.type = "button";
    press.className = "gk-asked";
    press.dataset.number = span.dataset.number;
    press.setAttribute("aria-expanded", "false");
    press.dataset.lmSuppressShortcuts = "true"; // JupyterLab would take Enter and Escape
    press.append(...span.childNodes);
    span.replaceWith(press);
  }
}

// What a pressed number is made of stands in a row of its own below it.
function beneath(press, about) {
  const row = press.closest("tr");
  const box = document.createElement(row ? "tr" : "div");
  const inside = row ? document.createElement("td") : box;
  inside.innerHTML = about;
  box.className = "gk-about";
  box.setAttribute("aria-label", "where this number comes from");
  if (row) {
    inside.colSpan = row.cells.length;
    box.append(inside);
    row.after(box);
  } else {
    box.setAttribute("role", "region");
    (press.closest("p, li") ?? press).after(box);
  }
  return box;
}

function render({ model, el }) {
  let opened;
  const open = () => {
    opened?.remove();
    opened = undefined;
    const name = model.get("number");
    for (const press of el.querySelectorAll("button[data-number]")) {
      const own = !opened && name !== "" && press.dataset.number === name;
      press.setAttribute("aria-expanded", String(own));
      if (own) opened = beneath(press, model.get("about"));
    }
  };
  const show = () => {
    opened?.remove();
    const page = document.createElement("template");
    page.innerHTML = model.get("value");
    pressable(page.content);
    change(el, page.content);
    open();
  };
  const press = ({ target }) => {
    const button = target.closest?.("button[data-number]");
    if (!button) return;
    const shut = button.getAttribute("aria-expanded") === "true";
    model.send({ number: shut ? "" : button.dataset.number });
  };
  const shut = (event) => {
    const button = el.querySelector("button[data-number][aria-expanded=true]");
    const inside = button && (event.target === button || opened?.contains(event.target));
    if (event.key !== "Escape" || !inside) return;
    event.stopPropagation();
    button.focus();
    model.send({ number: "" });
  };
  model.on("change:value", show);
  model.on("change:number change:about", open);
  el.addEventListener("click", press);
  el.addEventListener("keydown", shut);
  show();
  return () => {
    model.off("change:value", show);
    model.off("change:number change:about", open);
    el.removeEventListener("click", press);
    el.removeEventListener("keydown", shut);
  };
}

export default { render };
