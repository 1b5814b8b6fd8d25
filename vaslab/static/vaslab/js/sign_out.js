// At sign-out every value of this person that waits in the browser is deleted; whoever has some is asked.

import { countWaiting, forget } from "./waiting.js";

const form = document.querySelector("form[data-sign-out]");
const { person } = document.body.dataset;

form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const waiting = await countWaiting(person).catch(() => 0);
  const values = waiting === 1 ? "1 value has" : `${waiting} values have`;
  const warning = `${values} not been sent yet. Signing out deletes what waits in this browser.`;
  if (waiting > 0 && !confirm(`${warning} Sign out all the same?`)) return;
  await forget(person).catch(() => undefined);
  form.submit();
});
