// Signing in again in another tab changes the token that proves a form is ours. The page left open holds the
// old one, so it is taken from the cookie at the moment of sending.

const FIELD = "csrfmiddlewaretoken";

function token() {
  return document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1];
}

document.addEventListener(
  "submit",
  (event) => {
    const field = event.target.elements.namedItem(FIELD);
    const now = token();
    if (field && now) field.value = now;
  },
  true,
);

document.addEventListener("htmx:configRequest", (event) => {
  const now = token();
  if (!now) return;
  event.detail.headers["X-CSRFToken"] = now;
  if (event.detail.parameters[FIELD]) event.detail.parameters[FIELD] = now;
});
