// An open menu closes when the hand, the Tab key or Escape goes elsewhere; without a script it closes by its own heading.
const menus = document.querySelectorAll(".account, .thumb details");

function closeOthers(event) {
  for (const menu of menus) if (!menu.contains(event.target)) menu.open = false;
}

document.addEventListener("click", closeOthers);
document.addEventListener("focusin", closeOthers);

document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  for (const menu of menus) {
    if (menu.open && menu.contains(document.activeElement)) menu.querySelector("summary").focus();
    menu.open = false;
  }
});
