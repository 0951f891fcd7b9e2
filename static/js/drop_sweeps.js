// Sends dropped or chosen files one by one, says how far it is, and goes on to the page that asks for their cables.
// The form works without: then all files go at once.
const form = document.querySelector("[data-drop]");
const AT_ONCE = 4;

function part(name) {
  return form.querySelector(`[data-${name}]`);
}

function counted(number, word) {
  return `${number} ${word}${number === 1 ? "" : "s"}`;
}

function refuse(state, sentence) {
  const line = document.createElement("li");
  line.textContent = sentence;
  part("refused").append(line);
  part("refused").hidden = false;
  state.refused += 1;
}

function say(state) {
  const done = state.read + state.refused;
  part("progress").hidden = false;
  form.querySelector("progress").max = state.all;
  form.querySelector("progress").value = done;
  part("count").textContent = `${state.read} of ${counted(state.all, "file")} read, ${state.refused} refused`;
}

// why the pool did not even look at it
function whyNot(answer) {
  return answer.status === 401 || answer.redirected
    ? "you are signed out. Open this page anew, and drop it again."
    : "the pool did not take it. Drop it again.";
}

async function send(file, state) {
  if (file.size > Number(form.dataset.largest)) {
    refuse(state, `${file.name}: it is larger than a sweep may be. Save fewer points.`);
    say(state);
    return;
  }
  const data = new FormData();
  data.append("csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value);
  data.append("files", file);
  try {
    const answer = await fetch(form.dataset.one, { method: "POST", body: data });
    const isSaid = answer.headers.get("Content-Type")?.startsWith("application/json");
    const said = isSaid ? await answer.json() : { read: false, waits: false, sentence: whyNot(answer) };
    state.waiting += said.waits ? 1 : 0;
    if (said.read) {
      state.read += 1;
    } else {
      refuse(state, said.waits ? said.sentence : `${file.name}: ${said.sentence}`);
    }
  } catch {
    refuse(state, `${file.name}: it did not arrive. Drop it again.`);
  }
  say(state);
}

async function sendAll(files) {
  const most = Number(form.dataset.most);
  const state = { all: files.length, read: 0, refused: 0, waiting: 0 };
  const waiting = files.slice(0, most);
  form.querySelector("button").disabled = true;
  part("refused").replaceChildren();
  files.slice(most).forEach((file) => refuse(state, `${file.name}: at most ${most} files go together. Drop it later.`));
  say(state);
  async function work() {
    for (let file = waiting.shift(); file; file = waiting.shift()) {
      await send(file, state);
    }
  }
  await Promise.all(Array.from({ length: AT_ONCE }, work));
  form.querySelector("button").disabled = false;
  if (state.read && !state.refused) {
    location.assign(form.dataset.next);
  } else if (state.read) {
    part("on").hidden = false;
    part("on").querySelector("a").focus();
  }
}

if (form) {
  form.addEventListener("submit", (event) => {
    const files = [...form.elements.files.files];
    if (files.length) {
      event.preventDefault();
      sendAll(files);
    }
  });
  form.addEventListener("dragover", (event) => {
    event.preventDefault();
    form.classList.add("over");
  });
  form.addEventListener("dragleave", () => form.classList.remove("over"));
  form.addEventListener("drop", (event) => {
    event.preventDefault();
    form.classList.remove("over");
    if (event.dataTransfer.files.length) {
      sendAll([...event.dataTransfer.files]);
    }
  });
  part("hint").textContent += " Drop them anywhere in this frame.";
}
