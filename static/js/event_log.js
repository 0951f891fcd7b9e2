// The log page asks what is known of the event that is chosen: its planned mats, last time's, and which should not go by its
// last day. What comes is merged: nothing that is ticked or typed is drawn anew, however long the answer takes.
// A mat that the page itself ticked (`offered`) makes way for another event's, until a hand touches it.
const beginEventLog = () => {
  const form = document.querySelector("form[data-log]:not([data-begun])");
  if (!form) return;
  form.dataset.begun = "";
  const looking = form.querySelector("[data-looking]");
  const boxes = new Map([...form.querySelectorAll("[name=mats]")].map((box) => [box.value, box]));
  const button = form.querySelector("[data-plans]");
  const block = form.querySelector("#log-mats");
  const picker = form.querySelector("[data-picker]");
  const hidden = (name) => block.querySelector(`[name=${name}]`);
  const factsOf = (element) => JSON.parse(element.dataset.facts);
  const PATIENCE_MS = 30_000;
  const OF_NEW = ["name", "place", "starts_on", "ends_on"]; // what is asked about depends on these of a new event

  let asked = null; // what stops the newest request
  let picks = false; // its answer ticks what is planned
  let wantsSame = false; // last time's mats were asked for before it came
  const touched = new Set(); // by hand, since the event was chosen

  const value = (name) => form.querySelector(`[name=${name}]`)?.value ?? "";
  const chosenEvent = () => form.querySelector("[name=event]:checked, [name=event][type=hidden]");
  const about = () => {
    const code = chosenEvent()?.value ?? "";
    return [code, ...OF_NEW.map((name) => (code === "new" ? value(name) : "")), value("until")];
  };
  const isAbout = (facts) => about().every((text, at) => text === facts.about[at]);

  // what the page ticked by itself

  const offered = () => hidden("offered").value.split("\n").filter(Boolean);
  const setOffered = (numbers) => { hidden("offered").value = numbers.join("\n"); };
  const told = () => form.dispatchEvent(new Event("picker:told"));

  const tick = (numbers) => {
    const ticked = numbers.filter((number) => boxes.has(number) && !boxes.get(number).checked);
    ticked.forEach((number) => { boxes.get(number).checked = true; });
    setOffered([...offered(), ...ticked]);
    told();
    offerPlanned();
  };

  const makeWay = () => {
    offered().forEach((number) => { if (boxes.has(number)) boxes.get(number).checked = false; });
    setOffered([]);
    told();
  };

  const offerPlanned = () => {
    const planned = block.querySelector("#planned-mats");
    if (planned) planned.hidden = factsOf(block).planned.every((number) => boxes.get(number)?.checked);
  };

  // asking

  const say = (sentence, again) => {
    looking.textContent = sentence;
    if (!again) return;
    const retry = document.createElement("button");
    Object.assign(retry, { type: "button", className: "button quiet", textContent: "Try again", onclick: () => ask() });
    looking.append(" ", retry);
  };

  const sentFields = () => {
    const data = new FormData();
    ["csrfmiddlewaretoken", ...OF_NEW, "until"].forEach((name) => data.set(name, value(name)));
    data.set("event", about()[0]);
    data.set("act", "choose");
    return data;
  };

  // what stands under a thumb stays there, whatever is said above it
  const still = (change) => {
    const before = picker.getBoundingClientRect().top;
    change();
    if (before < innerHeight) scrollBy(0, picker.getBoundingClientRect().top - before);
  };

  const ask = async () => {
    asked?.abort();
    const mine = asked = new AbortController();
    const patience = setTimeout(() => mine.abort(), PATIENCE_MS);
    block.classList.add("looking");
    still(() => say("Looking up what is known of this event …"));
    try {
      const answer = await fetch(form.action, {
        method: "POST", body: sentFields(), headers: { "HX-Request": "true" }, signal: mine.signal,
      });
      const page = document.createElement("template");
      page.innerHTML = await answer.text();
      const known = page.content.querySelector("#log-mats");
      if (!answer.ok || !known) throw new Error(answer.status);
      if (mine === asked) still(() => merge(known));
    } catch {
      if (mine === asked) still(fail);
    } finally {
      clearTimeout(patience);
    }
  };

  const fail = () => {
    asked = null;
    say("What is planned for this event could not be looked up. You can tick the mats all the same.", true);
  };

  const merge = (known) => {
    const [ticked, seen] = [offered(), picks ? "" : hidden("seen").value];
    known.querySelector("noscript")?.remove();
    block.dataset.facts = known.dataset.facts;
    block.replaceChildren(...known.childNodes);
    block.classList.remove("looking");
    setOffered(ticked);
    // a page that came back by Back still says what its ticks were made by
    if (seen) hidden("seen").value = seen;
    const facts = factsOf(block);
    mark(facts);
    tick([...(picks ? facts.planned.filter((number) => !touched.has(number)) : []), ...(wantsSame ? facts.same : [])]);
    asked = null;
    picks = wantsSame = false;
    say("");
  };

  const mark = ({ unfit, gone }) => {
    boxes.forEach((box, number) => {
      const label = box.parentElement;
      label.classList.toggle("unfit", number in unfit);
      label.querySelector("[data-why]").textContent = gone.includes(number) ? "withdrawn" : unfit[number] ?? "";
      label.toggleAttribute("data-gone", gone.includes(number));
    });
  };

  // whether it lies ahead

  const name = () => {
    if (!button) return;
    const event = chosenEvent();
    const ends = event?.value === "new" ? value("ends_on") || value("starts_on") : event?.dataset.ends ?? "";
    const plans = form.querySelector("[name=only_planned]")?.checked || ends > form.dataset.today;
    button.textContent = plans ? "Plan the event" : "Log the event";
  };

  form.addEventListener("change", ({ target }) => {
    name();
    if (target.name === "event") {
      touched.clear();
      makeWay();
      hidden("seen").value = "";
      picks = true;
      wantsSame = false;
      ask();
    } else if ([...OF_NEW, "until"].includes(target.name) && !isAbout(factsOf(block))) {
      ask();
    } else if (target.name === "mats") {
      touched.add(target.value);
      setOffered(offered().filter((number) => number !== target.value));
      offerPlanned();
    }
  });

  form.addEventListener("click", (event) => {
    const wanted = event.target.closest("#same-mats, #planned-mats");
    if (!wanted) return;
    event.preventDefault();
    const facts = factsOf(block);
    if (isAbout(facts)) {
      tick(wanted.id === "same-mats" ? facts.same : facts.planned);
    } else {
      wantsSame = wanted.id === "same-mats";
      if (!asked) ask();
    }
  });

  const look = () => {
    name();
    offerPlanned();
    if (!isAbout(factsOf(block))) ask();
  };

  // once the form is empty again
  form.addEventListener("reset", () => setTimeout(() => {
    touched.clear();
    look();
  }));
  look();
};

document.addEventListener("page:filled", beginEventLog);
beginEventLog();
