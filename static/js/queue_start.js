// The page that asks to sign in makes the phone forget what it keeps to log with; all others send what waits.
(async () => {
  const box = document.querySelector("[data-queue-box]");
  try {
    if ("signedOut" in box.dataset) await queueKeep.forget();
    if ("shell" in box.dataset) await queueShell.start();
    else await queueDraft.start();
    await queueView.start();
    // nobody signed in, or somebody who may only look
    if (!box.dataset.ready) return;
    await queueSend.start();
    await queueKeep.start();
  } catch { /* a browser that keeps nothing: forms are sent as any form is */ }
})();
