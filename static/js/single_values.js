// The buttons of the log page that give the form back draw nothing anew here: Enter in a field goes nowhere, for all that
// it would fill in is there already, and the fields for single mats are fetched and put in their place.
(() => {
  const logs = (event) => event.target.matches("form[data-log]") && event.submitter?.name === "act";
  let asked = null;

  const fetched = async (form) => {
    const sent = new FormData(form);
    sent.set("act", "differ");
    const answer = await fetch(form.action, { method: "POST", body: sent, signal: asked.signal });
    if (!answer.ok) throw new Error(answer.status);
    return new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("exceptions");
  };

  // what was typed since it was sent stands, and what is open stays open
  const takeOver = (here, news) => {
    for (const field of here.querySelectorAll("details [name]")) {
      const same = news.querySelector(`[name="${CSS.escape(field.name)}"]`);
      if (!same) continue;
      same.value = field.value;
      same.checked = field.checked;
      same.closest("details").open ||= field.closest("details").open;
    }
    const [at, focused] = [document.activeElement, here.contains(document.activeElement)];
    here.replaceWith(news);
    if (focused) (at.id && document.getElementById(at.id) || news.querySelector("summary, button"))?.focus();
  };

  const differ = async (form) => {
    const here = form.querySelector("#exceptions"), said = form.querySelector("[data-differ-said]");
    asked?.abort();
    const mine = asked = new AbortController();
    said.textContent = "Looking them up …";
    try {
      const news = await fetched(form);
      if (!news) throw new Error("no such fields");
      if (mine === asked) takeOver(here, news);
    } catch {
      if (mine === asked) said.textContent = "No answer. Press it again. What you typed is kept.";
    }
  };

  document.addEventListener("submit", (event) => {
    if (!logs(event) || !["read", "differ"].includes(event.submitter.value)) return;
    event.preventDefault();
    if (event.submitter.value === "differ") differ(event.target);
  });
})();
