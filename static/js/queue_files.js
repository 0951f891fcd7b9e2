// The files of a form that was sent and comes back with a question: no page can bring them, so they stay with the entry. The
// form says which go along with the next answer, and each can be left out. The pool names a file that it refuses.
const queueFiles = (() => {
  const list = (form) => form.querySelector("[data-kept-files]");
  const isFile = ([, value]) => typeof value !== "string";

  // phones call many photos the same, and what the pool says of one is said of its name
  const named = (files) => {
    const taken = new Set();
    return files.map(([name, file, called]) => {
      const [, stem, ending] = /^(.*?)(\.[^.]*)?$/s.exec(called);
      let free = called;
      for (let count = 2; taken.has(free); count += 1) free = `${stem} (${count})${ending || ""}`;
      taken.add(free);
      return [name, file, free];
    });
  };

  // kept ones that still go along, and what was chosen now; also an empty one, of which the pool says so
  const chosenIn = (form, before) => {
    const left = [...(list(form)?.querySelectorAll("input:checked") || [])].map((box) => box.value);
    const kept = (before?.fields || []).filter(isFile).filter(([, , called]) => left.includes(called));
    const fresh = [...new FormData(form)].filter(isFile).filter(([, file]) => file.name);
    return named([...kept, ...fresh.map(([name, file]) => [name, file, file.name])]);
  };

  const namesIn = (field) => {
    const kept = [...(list(field.form)?.querySelectorAll("input:checked") || [])].map((box) => box.value);
    return [...kept, ...[...field.files].map((file) => file.name)].join(", ");
  };

  const isRefused = (entry, called) => (entry.says || []).some((sentence) => sentence.includes(`“${called.slice(-60)}”`));

  const tick = (called) => {
    const label = document.createElement("label");
    const box = Object.assign(document.createElement("input"), { type: "checkbox", value: called, checked: true });
    label.append(box, ` ${called}`);
    return label;
  };
  const leftOut = (called) => Object.assign(document.createElement("p"), { textContent: `${called} is left out.` });

  const offer = (form, entry) => {
    const files = entry.fields.filter(isFile);
    const field = form.querySelector("input[type=file]");
    if (!field || !files.length) return;
    form.querySelector("[data-choose-again]")?.remove();
    const made = Object.assign(document.createElement("fieldset"), { className: "ticks lines" });
    made.dataset.keptFiles = "";
    const refused = files.filter(([, , called]) => isRefused(entry, called));
    const going = files.filter((file) => !refused.includes(file));
    const words = going.length ? "Chosen already, and sent along" : "None of the photos is sent along";
    made.append(Object.assign(document.createElement("legend"), { textContent: words }));
    made.append(...going.map(([, , called]) => tick(called)), ...refused.map(([, , called]) => leftOut(called)));
    field.before(made);
  };

  const forget = (form) => list(form)?.remove();

  return { chosenIn, namesIn, offer, forget };
})();
