// One value after the other: each is sent as soon as it is typed, one at a time and in order, while the field takes the
// next one. What could not be sent stays in sight and is sent again. Without this script each value is a page.
(() => {
  const waits = document.getElementById("batch-waits");
  if (!document.getElementById("batch-form")) return;

  const form = () => document.getElementById("batch-form");
  const value = () => form().elements.loss;
  const queue = [];
  let sending = false;

  // `crypto.randomUUID` does not exist over plain http
  const newToken = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  };

  const line = (text, css) => {
    const said = document.createElement("p");
    said.className = `batch-wait ${css}`;
    said.textContent = text;
    waits.append(said);
    return said;
  };

  const show = (parts) => {
    for (const name of ["batch-count", "batch-last", "batch-judged-by", "batch-cables"]) {
      const part = parts.getElementById(name);
      if (part) document.getElementById(name).innerHTML = part.innerHTML;
    }
  };

  // Refused: back into the field, with the reason, unless something else is typed there by now.
  const refuse = (item, parts) => {
    const refused = parts.getElementById("batch-form");
    if (refused && !value().value && !queue.length) {
      form().replaceWith(refused);
      const field = refused.querySelector("[autofocus]") || value();
      field.focus();
      // what is typed next takes its place
      field.select();
      return;
    }
    const why = refused ? [...refused.querySelectorAll(".field-error, .form-errors")].map((said) => said.innerText) : [];
    const said = line(`${item.text}: not kept. ${why.join(" ").trim()} `, "refused");
    const gone = document.createElement("button");
    gone.type = "button";
    gone.className = "button quiet";
    gone.textContent = "Seen";
    gone.addEventListener("click", () => (said.remove(), value().focus()));
    said.append(gone);
  };

  const send = async () => {
    if (sending || !queue.length) return;
    sending = true;
    const item = queue[0];
    try {
      const answer = await fetch(item.to, {
        method: "POST",
        body: item.data,
        headers: { "HX-Request": "true" },
        credentials: "same-origin",
      });
      if (!answer.ok && answer.status !== 422) throw new Error(answer.status);
      const parts = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (!parts.getElementById("batch-count")) throw new Error("signed out");
      queue.shift();
      item.said.remove();
      show(parts);
      if (answer.status === 422) refuse(item, parts);
      sending = false;
      send();
    } catch {
      item.said.textContent = `${item.text}: not kept yet. It is sent again as soon as the pool answers.`;
      sending = false;
      setTimeout(send, 3000);
    }
  };

  const take = () => {
    const data = new FormData(form());
    data.set("token", newToken());
    const text = [data.get("serial"), data.get("loss")].filter(Boolean).join(" ");
    queue.push({ data, text, to: form().action, said: line(`${text} …`, "quiet") });
    value().value = "";
    form().elements.serial.value = "";
    form().querySelectorAll(".field-error, .form-errors, .batch-sure").forEach((said) => said.remove());
    (data.get("serial") ? form().elements.serial : value()).focus();
    send();
  };

  document.addEventListener("submit", (event) => {
    if (event.target !== form()) return;
    event.preventDefault();
    if (value().value.trim()) take();
    else value().focus();
  });

  // From the serial Enter goes on to the value.
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing || event.target !== form().elements.serial) return;
    event.preventDefault();
    value().focus();
  });

  // A go/no-go tester: the key alone is the value.
  document.addEventListener("input", (event) => {
    if (event.target === value() && "oneKey" in form().dataset && /^(\d+\s*[:=]\s*)?[wo]$/i.test(value().value)) take();
  });

  window.addEventListener("beforeunload", (event) => queue.length && event.preventDefault());

  // `?again=7` opens the field with *7:* in it: typing goes on behind that
  value().focus();
  value().setSelectionRange(value().value.length, value().value.length);
})();
