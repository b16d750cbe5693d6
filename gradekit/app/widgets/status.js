// The line that says what happened, that an answer is being made, or that the kernel has ended.

// JupyterLab takes the arrow keys away from whatever it does not know for a place to type in.
const keep = ({ target }) => {
  if (!target.matches?.(".gk-live :is(select, input)")) return;
  target.dataset.lmSuppressShortcuts = "true";
};

// In the page without code nobody else looks after the kernel: ask whether it is still there.
const config = document.getElementById("jupyter-config-data");
const page = config ? JSON.parse(config.textContent) : {};
const kernel = page.kernelId;
const EVERY = 5000;

async function gone() {
  if (!kernel) return false;
  try {
    const base = (page.baseUrl ?? "/").replace(/\/$/, "");
    const answer = await fetch(`${base}/api/kernels/${kernel}`, { cache: "no-store" });
    return answer.status === 404;
  } catch {
    return true; // the server itself has ended
  }
}

function pulse() {
  if (document.gradekitPulse) return document.gradekitPulse;
  const heart = new EventTarget();
  document.gradekitPulse = heart;
  const look = async () => {
    if (await gone()) {
      heart.ended = true;
      heart.dispatchEvent(new Event("ended"));
    } else setTimeout(look, EVERY);
  };
  if (kernel) setTimeout(look, EVERY);
  return heart;
}

const RISING = ["unknown", "starting", "restarting", "autorestarting", "connecting"];

function again(el, tries = 200) {
  const notebook = el.closest(".jp-NotebookPanel");
  if (!notebook) return location.reload();
  // A kernel that is told to start anew while it still starts may never answer again.
  const kernel = notebook.querySelector(".jp-Notebook-ExecutionIndicator")?.dataset.status;
  if (RISING.includes(kernel) && tries) return setTimeout(() => again(el, tries - 1), 300);
  const place = '[data-jp-item-name="restart-and-run"]';
  const press = notebook.querySelector(
    `${place} :is(jp-button, button), ${place}:is(jp-button, button)`
  );
  // JupyterLab's toolbar listens to the mouse going down, other hosts to the click.
  press?.dispatchEvent(new MouseEvent("mousedown", { bubbles: true, cancelable: true, button: 0 }));
  press?.click();
}

function render({ model, el }) {
  document.gradekitKeys ??= document.addEventListener("focusin", keep) ?? true;
  const line = document.createElement("p");
  line.className = "gk-status";
  line.setAttribute("role", "status");
  const busy = document.createElement("p");
  busy.className = "gk-busy";
  busy.hidden = true;
  busy.textContent = "… the answer is being made";
  const end = document.createElement("div");
  end.className = "gk-ended";
  end.setAttribute("role", "alert");
  end.hidden = true;
  const show = () => {
    // A panel that computes in the page has said the same already.
    if (line.textContent !== model.get("text")) line.textContent = model.get("text");
    line.classList.toggle("gk-error", model.get("wrong"));
    line.classList.toggle("gk-heard", model.get("heard"));
    const waits = model.get("busy") && end.hidden;
    if (busy.hidden === waits) busy.hidden = !waits;
    if ((el.getAttribute("aria-busy") === "true") !== waits) el.setAttribute("aria-busy", String(waits));
  };
  const ended = () => {
    const panel = el.closest(".gk-live");
    if (!end.hidden || (panel && panel.querySelector(".gk-status") !== line)) return;
    // In JupyterLab the style of the panel says so already.
    const words = "△ The kernel of this page has ended: these are its last values.";
    end.textContent = kernel ? words : "";
    const press = document.createElement("button");
    press.textContent = "Start again";
    press.addEventListener("click", () => again(el));
    end.append(press);
    end.hidden = false;
    show();
  };
  const watch = new MutationObserver((changes) => {
    if (changes.some(({ target }) => target.matches(".jupyter-widgets-disconnected"))) ended();
  });
  setTimeout(() => {
    const panel = el.closest(".gk-live");
    if (panel) watch.observe(panel, { attributes: true, attributeFilter: ["class"] });
  });
  const heart = pulse();
  heart.addEventListener("ended", ended);
  model.on("change:text change:wrong change:heard change:busy", show);
  el.append(line, busy, end);
  show();
  if (heart.ended) ended();
  return () => {
    heart.removeEventListener("ended", ended);
    watch.disconnect();
  };
}

export default { render };
