// What this phone keeps until the pool has it: each form that was sent, in the order in which they were; and beside them
// what it needs without signal. Nothing here leaves the phone. Order is counted: clocks of phones are wrong.
const queueStore = (() => {
  const KEPT = "kept on this phone", SENT = "sent", ASKS = "needs your answer";
  const MOST_SENT = 5;
  const told = typeof BroadcastChannel === "undefined" ? null : new BroadcastChannel("halfpower-queue");
  const listeners = [];
  let opened;

  const open = () => new Promise((done, fail) => {
    const asked = indexedDB.open("halfpower", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("entries", { keyPath: "id" });
      asked.result.createObjectStore("beside");
    };
    asked.onsuccess = () => {
      asked.result.onversionchange = () => { asked.result.close(); opened = null; };
      asked.result.onclose = () => { opened = null; };
      done(asked.result);
    };
    asked.onerror = () => fail(asked.error);
    asked.onblocked = () => fail(new Error("blocked"));
  });

  // `work` gets the store and a way to give back a result; done is said once it lies on the disk
  const act = async (name, mode, work) => {
    opened ||= open().catch((error) => { opened = null; throw error; });
    const database = await opened;
    return new Promise((done, fail) => {
      const transaction = database.transaction(name, mode, { durability: "strict" });
      let result;
      transaction.oncomplete = () => done(result);
      transaction.onabort = transaction.onerror = () => fail(transaction.error);
      work(transaction.objectStore(name), (value) => { result = value; });
    });
  };

  const tell = () => {
    told?.postMessage("changed");
    listeners.forEach((listener) => listener());
  };
  if (told) told.onmessage = () => listeners.forEach((listener) => listener());

  const inTurn = (entries) => entries.sort((one, other) => one.turn - other.turn);

  const all = () => act("entries", "readonly", (store, give) => {
    store.getAll().onsuccess = (event) => give(inTurn(event.target.result));
  });

  // Writes an entry; the one it answers for, if any, goes in the same step. The same id again is the same entry.
  const keep = async (entry, instead) => {
    await act("entries", "readwrite", (store) => {
      store.getAll().onsuccess = (event) => {
        const before = event.target.result;
        const same = before.find((other) => other.id === (instead || entry.id));
        const last = Math.max(0, ...before.map((other) => other.turn));
        if (instead && instead !== entry.id) store.delete(instead);
        store.put({ ...entry, turn: same ? same.turn : last + 1 });
      };
    });
    tell();
  };

  // `only`: where it is in this state still
  const change = async (id, values, only) => {
    await act("entries", "readwrite", (store) => {
      store.get(id).onsuccess = (event) => {
        const entry = event.target.result;
        if (entry && (!only || entry.state === only)) store.put({ ...entry, ...values });
      };
    });
    tell();
  };

  const remove = async (...ids) => {
    await act("entries", "readwrite", (store) => ids.forEach((id) => store.delete(id)));
    tell();
  };

  // What the pool has is kept no longer than to say so.
  const noteSent = async (entry, address) => {
    const { id, turn, kind, what, pool, account } = entry;
    await act("entries", "readwrite", (store) => {
      store.put({ id, turn, kind, what, pool, account, address, state: SENT });
      store.getAll().onsuccess = (event) => {
        const sent = inTurn(event.target.result.filter((other) => other.state === SENT));
        sent.slice(0, -MOST_SENT).forEach((other) => store.delete(other.id));
      };
    });
    tell();
  };

  const beside = (name) => act("beside", "readonly", (store, give) => {
    store.get(name).onsuccess = (event) => give(event.target.result);
  });
  const setBeside = (name, value) => act("beside", "readwrite", (store) => {
    if (value === undefined) store.delete(name);
    else store.put(value, name);
  });

  // Whether this tab is the one that sends for the next while, where the browser itself cannot say so. A lease that ends
  // later than any could is from before somebody set the clock.
  const lease = (tab, forMs) => act("beside", "readwrite", (store, give) => {
    store.get("sender").onsuccess = (event) => {
      const left = (event.target.result?.until || 0) - Date.now();
      const free = left <= 0 || left > forMs || event.target.result.tab === tab;
      if (free) store.put({ tab, until: Date.now() + forMs }, "sender");
      give(free);
    };
  });
  const endLease = (tab) => act("beside", "readwrite", (store) => {
    store.get("sender").onsuccess = (event) => { if (event.target.result?.tab === tab) store.delete("sender"); };
  });

  // `crypto.randomUUID` does not exist over plain http
  const newToken = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const digits = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return digits.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
  };

  return {
    KEPT, SENT, ASKS, all, keep, change, remove, noteSent, beside, setBeside, lease, endLease, newToken,
    onChange: (listener) => listeners.push(listener),
  };
})();
