// What every page does. An expired sign-in is said in place, so that nothing typed is lost.

import "./form_token.js";
import "./idle_lock.js";
import "./lock.js";
import "./sign_out.js";

document.body.addEventListener("htmx:responseError", (event) => {
  const status = event.detail.xhr.status;
  say(
    status === 401
      ? "Your sign-in has ended. What you typed is still here: sign in again in a new tab, then go on."
      : "That did not work, and nothing was changed. Try again; if it stays so, tell your system administrator.",
  );
});

document.body.addEventListener("htmx:sendError", () => {
  say("No connection. What you typed is still here; try again when the connection is back.");
});

function say(words) {
  let line = document.getElementById("page-problem");
  if (!line) {
    line = document.createElement("p");
    line.id = "page-problem";
    line.className = "problem";
    line.setAttribute("role", "alert");
    document.getElementById("main").prepend(line);
  }
  line.textContent = words;
}
