// A form that takes longer than a moment says that it is on its way, so that nobody presses a second time.
addEventListener("submit", (event) => {
  const form = event.target;
  const said = document.createElement("p");
  said.className = "quiet sent";
  said.setAttribute("role", "status");
  setTimeout(() => {
    if (event.defaultPrevented || form.getAttribute("method") !== "post" || !form.closest("main")) return;
    (event.submitter || form).after(said);
    // announced, as it is put into what stands there already
    setTimeout(() => said.append("Sent. The pool is working on it; this may take some seconds."), 50);
    // where the answer is a file the page stays
    setTimeout(() => said.remove(), 30000);
  }, 1000);
});
