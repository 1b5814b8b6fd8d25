// Two patients' sheets open side by side in one browser invite a value in the wrong record: each says so.

const ASK = "who is open";

/** Calls `tell(true)` while a sheet of another patient is open in this browser, `tell(false)` otherwise. */
export function watchForAnotherPatient(patient, tell) {
  const channel = new BroadcastChannel("vaslab-open-sheets");
  const others = new Map();
  const me = String(Math.random());
  channel.onmessage = ({ data }) => {
    if (data.closed) others.delete(data.from);
    else if (data.patient !== patient) others.set(data.from, data.patient);
    if (data.say === ASK) channel.postMessage({ from: me, patient });
    tell(others.size > 0);
  };
  addEventListener("pagehide", () => channel.postMessage({ from: me, closed: true }));
  // Back from the browser's memory of pages, or open for the first time.
  addEventListener("pageshow", () => channel.postMessage({ from: me, patient, say: ASK }));
}
