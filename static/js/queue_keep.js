// What a phone keeps to open the log page without signal: over https and on localhost, where browsers have service workers.
// Over plain http an open page keeps its entries, and nothing else is kept.
const queueKeep = (() => {
  const box = document.querySelector("[data-queue-box]");
  const can = isSecureContext && "serviceWorker" in navigator && "caches" in window;

  // The pool's clock stands beside that of the phone, which may be wrong.
  const note = async ({ token, ...known }) => {
    if (can) await queueStore.setBeside("known", { ...known, aheadMs: known.now_ms - Date.now() });
  };

  // Whoever signed out leaves nothing behind but what waits to be sent.
  const forget = async () => {
    if (can) {
      const names = await caches.keys();
      await Promise.all(names.filter((name) => name.startsWith("halfpower-log-")).map((name) => caches.delete(name)));
    }
    await queueStore.setBeside("known", undefined);
    const sent = (await queueStore.all()).filter((entry) => entry.state === queueStore.SENT);
    if (sent.length) await queueStore.remove(...sent.map((entry) => entry.id));
  };

  const keep = async () => {
    const worker = await navigator.serviceWorker.register(box.dataset.worker);
    // one that was here before may have been told to forget
    worker.active?.postMessage("fill");
  };

  // The log page always; on a phone any page, once in a tab.
  const isDue = () => {
    if (location.pathname === box.dataset.log) return true;
    if (!matchMedia("(pointer: coarse)").matches || sessionStorage.getItem("queue-kept")) return false;
    sessionStorage.setItem("queue-kept", "yes");
    return true;
  };

  const start = async () => {
    if (!can || !isDue()) return;
    try {
      await keep();
      await queueSend.refresh();
    } catch { /* no signal just now: with the next page */ }
  };

  return { can, note, forget, start };
})();
