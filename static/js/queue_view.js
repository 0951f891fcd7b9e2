// Says on every page how much this phone keeps, and on the log page what.
const queueView = (() => {
  const store = queueStore;
  const box = document.querySelector("[data-queue-box]");
  const strip = box.querySelector("[data-queue-strip]"), list = box.querySelector("[data-queue-list]");
  const onSignInPage = "signedOut" in box.dataset;
  const onLogPage = location.pathname === box.dataset.log || "shell" in box.dataset;

  const make = (name, words = "", attributes = {}) => {
    const element = Object.assign(document.createElement(name), { textContent: words });
    for (const [attribute, value] of Object.entries(attributes)) element.setAttribute(attribute, value);
    return element;
  };
  const button = (words, does, kind = "secondary") => {
    const made = make("button", words, { type: "button", class: `button ${kind}` });
    made.addEventListener("click", does);
    return made;
  };
  const link = (words, address, kind = "secondary") => make("a", words, { href: address, class: `button ${kind}` });
  const signIn = () => `${box.dataset.signIn}?next=${encodeURIComponent(location.pathname + location.search)}`;

  const stateOf = (entry) => {
    if (onSignInPage) return entry.state;
    if (entry.pool !== queueSend.here().pool) return "kept for another pool";
    return entry.account === queueSend.here().account ? entry.state : "kept for another account";
  };
  const isOther = (entry) => stateOf(entry).startsWith("kept for another");
  const since = (entry) => new Date(entry.keptAtMs).toLocaleString("en-GB", {
    day: "numeric", month: "short", hour: "2-digit", minute: "2-digit",
  });

  const why = () => {
    const { signedOut, other, barred, away, again } = queueSend.state();
    if (signedOut) return "You are signed out. Sign in, and it is sent.";
    if (other) return "It is sent once the account that typed it is signed in.";
    if (barred) return `${box.dataset.name || "Your account"} may no longer log. Ask the keeper. It is sent once that is allowed again.`;
    if (away || !navigator.onLine) return "It is sent by itself when there is signal.";
    return again ? "It is sent by itself as soon as it gets through." : "Sending it.";
  };

  // What is said in place of a form that was sent. `again` empties the form for another, where there may be one.
  const panel = (entry, another, again) => {
    const made = make("div", "", { class: "queue-panel", tabindex: "-1" });
    made.append(make("p", "", { role: "status" }), make("p", "", { class: "acts" }));
    made.more = another ? [button(another, again)] : [];
    say(made, entry);
    return made;
  };
  const say = (made, entry) => {
    const [words, acts] = made.children;
    const reason = entry.state === store.KEPT ? why() : "";
    // what says the same stays as it is: something in it may be asked
    if (made.said === stateOf(entry) + reason + entry.says) return;
    made.said = stateOf(entry) + reason + entry.says;
    words.replaceChildren(make("b", entry.what), `: ${stateOf(entry)}. ${reason}`);
    acts.replaceChildren();
    if (entry.state === store.ASKS) {
      for (const sentence of entry.says || []) words.append(make("br"), sentence);
      acts.append(button("Throw away", () => toss(entry, acts, () => sayThrown(made, entry)), "quiet"));
    }
    if (entry.state === store.SENT) acts.append(link("Look at it", entry.address, ""));
    if (queueSend.state().signedOut && entry.state === store.KEPT) acts.append(link("Sign in", signIn(), ""));
    acts.append(...made.more);
  };

  const sayThrown = (made, entry) => {
    const [words, acts] = made.children;
    words.replaceChildren(make("b", entry.what), ": thrown away.");
    acts.replaceChildren(...made.more);
    made.focus();
  };

  const showStrip = (entries) => {
    const counts = new Map();
    for (const entry of entries) counts.set(stateOf(entry), (counts.get(stateOf(entry)) || 0) + 1);
    const said = [...counts].map(([state, count]) => `${state}: ${count}`).join(" · ");
    const asked = entries.some((entry) => entry.state !== store.SENT && !isOther(entry)) && askToSignIn();
    const says = [said, asked, isBarred()].join();
    if (strip.dataset.said === says) return;
    strip.dataset.said = says;
    strip.replaceChildren();
    if (!said) return;
    strip.append(make("span", said));
    if (onSignInPage) strip.append(counts.has(store.KEPT) ? ". Sign in, and it is sent." : ". Sign in first.");
    else if (asked) strip.append(" ", make("a", "Sign in to send", { href: signIn() }));
    else if (isBarred()) strip.append(counts.has(store.KEPT) ? `. ${why()}` : ".");
    else if (!onLogPage && box.dataset.log) strip.append(" ", make("a", "Look", { href: `${box.dataset.log}#on-this-phone` }));
  };
  // its pages lead nowhere where the list stands, so it stands on each of them
  const isBarred = () => Boolean(queueSend.state().barred);
  const askToSignIn = () => Boolean(queueSend.state().signedOut);

  const facts = (entry) => {
    const made = make("dl", "", { class: "facts" });
    for (const [words, value] of entry.typed) {
      const row = make("div");
      row.append(make("dt", words), make("dd", value));
      made.append(row);
    }
    return made;
  };

  const toss = (entry, acts, then = () => {}) => {
    const before = [...acts.children];
    acts.replaceChildren(
      make("span", "Throw away what was typed? It is stored nowhere else."),
      button("Throw it away", () => store.remove(entry.id).then(then)),
      button("Keep it", () => acts.replaceChildren(...before), "quiet"),
    );
    acts.querySelector("button").focus();
  };

  const actsOf = (entry, item) => {
    const acts = make("div", "", { class: "acts" });
    if (entry.state === store.SENT) {
      acts.append(link("Look", entry.address));
      return acts;
    }
    if (!isOther(entry)) {
      const opens = entry.state === store.ASKS && entry.page;
      if (!opens && !entry.refused && !isBarred()) acts.append(button("Send now", () => sendAgain(entry)));
      acts.append(button(opens ? "Look and answer" : "Look", () => (opens ? queueForms.open(entry) : unfold(entry, item))));
    }
    acts.append(button("Throw away", () => toss(entry, acts), "quiet"));
    return acts;
  };
  const sendAgain = async (entry) => {
    await store.change(entry.id, { state: store.KEPT, says: undefined });
    await queueSend.now();
  };
  const unfold = (entry, item) => {
    const open = item.querySelector("dl");
    if (open) open.remove();
    else item.append(facts(entry));
  };

  const itemOf = (entry) => {
    const item = make("li"), words = make("p", "", {});
    words.append(make("b", entry.what), make("br"), make("span", stateOf(entry), { class: "quiet" }));
    if (entry.keptAtMs) words.lastChild.append(`, typed ${since(entry)}`);
    if (isBarred() && stateOf(entry) === store.KEPT) words.append(make("br"), why());
    for (const sentence of entry.says || []) words.append(make("br"), sentence);
    item.append(words, actsOf(entry, item));
    return item;
  };

  // what stands in the page itself, as its panel or as the form that is to be answered
  const isInPlace = (entry) => document.querySelector(`main form[data-entry="${entry.id}"]`) !== null;

  const showList = (all) => {
    const entries = all.filter((entry) => !isInPlace(entry) && (onLogPage || !isOther(entry)));
    list.hidden = !(onLogPage || isBarred()) || !entries.length;
    // the list says it all; the strip is there for those who hear the page, and where it asks for something
    strip.classList.toggle("unseen", !list.hidden && !askToSignIn());
    // a list that shows the same stays as it is: something in it may be unfolded, or asked
    if (list.hidden || list.dataset.shown === key(entries)) return;
    list.dataset.shown = key(entries);
    list.querySelector("ul").replaceChildren(...entries.map(itemOf));
  };
  const key = (entries) => JSON.stringify([entries.map(({ id, state }) => [id, state]), queueSend.here(), isBarred()]);

  const show = async () => {
    const entries = (await store.all()).filter((entry) => entry.state !== store.SENT || !isOther(entry));
    showStrip(entries);
    showList(entries);
  };

  // That something is sent is said on this page and on the next.
  const start = async () => {
    for (const entry of await store.all()) {
      if (entry.state !== store.SENT) continue;
      if (entry.shown) await store.remove(entry.id);
      else await store.change(entry.id, { shown: true });
    }
    store.onChange(show);
    queueSend.onChange(show);
    await show();
  };

  return { panel, say, show, start };
})();
