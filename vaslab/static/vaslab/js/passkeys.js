// Forms that a passkey fills in: ask the device, put its answer in the hidden field, send. The words on the
// button are the page's; what the device asks for is the person's own business.

for (const form of document.querySelectorAll("form[data-passkey]")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    fill(form).catch((problem) => say(form, problem));
  });
}

async function fill(form) {
  const credential = await (form.dataset.passkey === "make" ? make(await asked(form)) : use(await asked(form)));
  form.elements.namedItem("credential").value = JSON.stringify(credential);
  form.submit();
}

/** What the service asks of the device: written into the page, or fetched at the moment it is needed. */
async function asked(form) {
  const { askAt } = form.dataset;
  if (!askAt) return JSON.parse(form.querySelector("script[type='application/json']").textContent);
  const answer = await fetch(askAt, { headers: { Accept: "application/json" }, cache: "no-store" });
  if (!answer.ok) throw new Error(String(answer.status));
  return (await answer.json()).request_options;
}

/** A passkey that can stand alone: kept by the device, unlocked by its owner. */
export async function make({ publicKey }) {
  const authenticatorSelection = {
    ...publicKey.authenticatorSelection,
    residentKey: "required",
    requireResidentKey: true,
    userVerification: "required",
  };
  const asked = PublicKeyCredential.parseCreationOptionsFromJSON({ ...publicKey, authenticatorSelection });
  return (await navigator.credentials.create({ publicKey: asked })).toJSON();
}

export async function use({ publicKey }) {
  const asked = PublicKeyCredential.parseRequestOptionsFromJSON(publicKey);
  return (await navigator.credentials.get({ publicKey: asked })).toJSON();
}

/** Whether this browser knows passkeys, in the way that has become the common one. */
export const known = () => Boolean(window.PublicKeyCredential?.parseRequestOptionsFromJSON);

/** Why nothing came of it, in words; the name of an error is the browser's. */
export function inWords(problem) {
  if (!known()) return "This browser knows no passkeys. Use your password and a code.";
  if (problem.name === "InvalidStateError") return "This device has a passkey of yours already.";
  if (problem.name === "NotAllowedError") return "The device gave no passkey: it was cancelled, or there is none here.";
  return "That did not work. Try again, or use your password and a code.";
}

function say(form, problem) {
  const place = form.querySelector(".passkey-problem");
  place.textContent = inWords(problem);
  place.hidden = false;
}
