// Sends what this phone keeps, one after the other and never from two tabs at once; what is sent twice all the same is
// known to the pool by its token. Only to the pool and by the account that it was typed for, and with a fresh token
// against forged forms. Whatever fails, the entry stays.
const queueSend = (() => {
  const store = queueStore;
  // a line that brings less than 8 kB a second brings a photo no sooner by being asked anew
  const PATIENCE_MS = 45_000, SLOWEST_BYTES_MS = 8;
  const LEASE_MS = 15_000, RENEW_MS = 5_000, FIRST_WAIT_MS = 5_000, LONGEST_WAIT_MS = 300_000;
  const MORE = "?keep", STOPS = ["signedOut", "other", "barred"];
  const HEADER = "X-Halfpower-Queue";
  const tab = store.newToken();
  const box = document.querySelector("[data-queue-box]");
  let running = null, again = false, waitMs = FIRST_WAIT_MS, timer = 0;
  // on pages of an account that may not log there is nowhere to ask
  let state = { barred: !("signedOut" in box.dataset || box.dataset.ready) };

  // pool and account of this page; a page that was opened without signal has those with which it was kept
  const here = () => ({ pool: box.dataset.pool, account: box.dataset.account });
  const isMine = (entry) => entry.pool === here().pool && entry.account === here().account;

  const ask = (address, options, bytes = 0) => fetch(address, {
    redirect: "manual", cache: "no-store", credentials: "same-origin", signal: timeout(bytes), ...options,
  });
  const timeout = (bytes) => {
    const control = new AbortController();
    setTimeout(() => control.abort(), PATIENCE_MS + bytes / SLOWEST_BYTES_MS);
    return control.signal;
  };

  // {signedOut} or {barred} or what the pool says; throws where nobody answers. `more`: with what is kept to log with.
  const ready = async (more = "") => {
    const answer = await ask(box.dataset.ready + more, { headers: { [HEADER]: "ready?" } });
    if (answer.status === 401) return { signedOut: true };
    if (answer.status === 403) return { ...(isWord(answer) && await answer.json()), barred: true };
    if (!answer.ok) throw new Error(`not ready: ${answer.status}`);
    return answer.json();
  };

  const bodyOf = (entry) => {
    const body = entry.fields.some(([, value]) => typeof value !== "string") ? new FormData() : new URLSearchParams();
    for (const [name, value, file] of entry.fields) {
      if (typeof value === "string") body.append(name, value);
      else body.append(name, value, file);
    }
    return body;
  };

  const post = (entry, token) => ask(entry.action, {
    method: "POST", body: bodyOf(entry), headers: { [HEADER]: `${entry.pool} ${entry.account}`, "X-CSRFToken": token },
  }, entry.fields.reduce((bytes, [, value]) => bytes + (value.size ?? value.length), 0));

  const isWord = (answer) => Boolean(answer.headers.get("Content-Type")?.startsWith("application/json"));

  // the page that answers, without the frame around it
  const asks = async (entry, answer) => {
    if (isWord(answer)) {
      await store.change(entry.id, { state: store.ASKS, says: (await answer.json()).says, page: undefined, refused: true });
      return "asks";
    }
    const whole = new DOMParser().parseFromString(await answer.text(), "text/html");
    const main = whole.querySelector("main");
    const errors = ".form-errors p, .asked p, .asked li, .field-error";
    const said = [...(main?.querySelectorAll(errors) || [])].map((line) => line.textContent.replace(/\s+/g, " ").trim());
    const lead = main?.querySelector(".lead")?.textContent.replace(/\s+/g, " ").trim();
    const says = said.length ? said : [lead || `The pool answered with ${answer.status}.`];
    const page = answer.status === 422 ? main?.innerHTML : undefined;
    await store.change(entry.id, { state: store.ASKS, says, page });
    return "asks";
  };

  // What became of one entry: sent, asks, later; or what keeps all of them: signedOut, other, barred.
  const judge = async (entry, answer) => {
    if (answer.status === 401) return "signedOut";
    if (answer.status === 409) return "other";
    if (answer.status === 200 && isWord(answer)) {
      await store.noteSent(entry, (await answer.json()).stored);
      return "sent";
    }
    const later = answer.status < 400 || answer.status >= 500 || [408, 425, 429].includes(answer.status);
    return later ? "later" : asks(entry, answer);
  };

  // A token that is refused costs nothing: another is fetched. What is refused with that one, too, is against a rule.
  const send = async (entry, token) => {
    const answer = await post(entry, token);
    if (answer.status !== 403) return judge(entry, answer);
    const fresh = await ready();
    if (fresh.signedOut) return "signedOut";
    if (!isFor(entry, fresh)) return "other";
    return fresh.barred ? "barred" : judge(entry, await post(entry, fresh.token));
  };
  const isFor = (entry, said) => said.pool === entry.pool && said.account === entry.account;

  const next = async (tried) => {
    const entries = await store.all();
    return entries.find((entry) => entry.state === store.KEPT && isMine(entry) && !tried.has(entry.id));
  };

  // Nobody answered in time: later, where the pool still answers at all. It may be the size of this one.
  const trySending = async (entry, token) => {
    try {
      return await send(entry, token);
    } catch {
      await ready();
      return "later";
    }
  };

  const sendAll = async () => {
    const said = await ready();
    await note(said.signedOut || isFor(here(), said) ? said : { other: true });
    if (STOPS.some((reason) => state[reason])) return { done: true };
    const tried = new Set();
    let sent = 0, failed = 0, entry;
    while ((entry = await next(tried))) {
      tried.add(entry.id);
      const became = await trySending(entry, said.token);
      if (STOPS.includes(became)) { await note({ [became]: true }); return { done: true }; }
      if (became === "sent") sent += 1;
      if (became === "later") failed += 1;
    }
    if (sent && queueKeep.can) await note(await ready(MORE));
    return { done: !failed };
  };

  // What the pool said of itself: shown, and kept for the log page without signal. Who is signed out keeps only the queue.
  const note = async (said) => {
    state = { ...state, ...Object.fromEntries(STOPS.map((reason) => [reason, Boolean(said[reason])])), away: false };
    if (said.signedOut) await queueKeep.forget();
    else if (said.depots) await queueKeep.note(said);
    listeners.forEach((listener) => listener());
  };
  const listeners = [];

  const alone = async (work) => {
    if (navigator.locks) return navigator.locks.request("halfpower-queue", work);
    for (let tries = 0; !(await store.lease(tab, LEASE_MS)); tries += 1) {
      if (tries > 120) throw new Error("another tab sends");
      await new Promise((go) => setTimeout(go, 500));
    }
    const renewed = setInterval(() => store.lease(tab, LEASE_MS), RENEW_MS);
    try {
      return await work();
    } finally {
      clearInterval(renewed);
      await store.endLease(tab);
    }
  };

  const waits = async () => (await store.all()).some((entry) => entry.state === store.KEPT && isMine(entry));

  const round = async () => {
    let done = false;
    try {
      if (!(await waits())) return;
      ({ done } = await alone(sendAll));
      state.away = false;
      state.again = !done;
    } catch {
      state = { ...state, away: true };
    }
    listeners.forEach((listener) => listener());
    if (done) waitMs = FIRST_WAIT_MS;
    else later();
  };

  const later = () => {
    clearTimeout(timer);
    timer = setTimeout(now, waitMs);
    waitMs = Math.min(waitMs * 2, LONGEST_WAIT_MS);
  };

  // Sends what waits; what is added meanwhile goes along.
  const now = async () => {
    clearTimeout(timer);
    if (running) { again = true; return running; }
    running = round();
    await running;
    running = null;
    if (again) { again = false; return now(); }
    return undefined;
  };
  const soon = () => { waitMs = FIRST_WAIT_MS; return now(); };

  const start = () => {
    addEventListener("online", soon);
    document.addEventListener("visibilitychange", () => { if (!document.hidden) soon(); });
    return soon();
  };

  const refresh = async () => note(await ready(MORE));

  return { start, now: soon, ready, refresh, isMine, here, state: () => state, onChange: (listener) => listeners.push(listener) };
})();
