// A page that says why a form was not kept begins there, unless it put the focus into the field that is meant.
const refused = document.querySelector("main :is(.form-errors, .asked):not([hidden])");
if (refused && !document.querySelector("main [autofocus]")) {
  refused.tabIndex = -1;
  refused.focus();
}
