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

function render({ model, el }) {
  const show = () => {
    const page = document.createElement("template");
    page.innerHTML = model.get("value");
    change(el, page.content);
  };
  model.on("change:value", show);
  show();
  return () => model.off("change:value", show);
}

export default { render };
