// The line to the service: the token, the requests, and the stream of snapshots with its reconnection.

const KEPT = "benchd-token";
const SILENT_MS = 40000; // the service says something every 15 s; longer silence is a dead line
const PATIENCE_MS = [500, 1000, 2000, 4000, 8000];

// The link carries the token in its fragment, which a browser never sends; it is taken out of the address at once.
export function takeToken() {
  const given = location.hash.slice(1);
  if (given) {
    sessionStorage.setItem(KEPT, given);
    history.replaceState(null, "", location.pathname);
  }
  return Boolean(given);
}

export function keepToken(token) {
  sessionStorage.setItem(KEPT, token.trim().replace(/^.*#/, ""));
}

function headers() {
  return { Authorization: `Bearer ${sessionStorage.getItem(KEPT) ?? ""}` };
}

// Ask for something to be done; throws an Error with the service's own sentence.
export async function post(path) {
  let answer;
  try {
    answer = await fetch(path, { method: "POST", headers: headers(), cache: "no-store" });
  } catch {
    throw new Error("The service does not answer; nothing was changed as far as this page knows.");
  }
  const body = await answer.json().catch(() => ({}));
  if (!answer.ok) throw new Error(body.error ?? `The service answered ${answer.status}.`);
  return body;
}

// Follow the stream for ever. `heard(snapshot)`; `state(name)` is "open", "lost" or "denied"; `state` may return a
// promise that is awaited before the next try (for a new token).
export async function follow(heard, state) {
  for (let failures = 0; ; failures += 1) {
    const stop = new AbortController();
    let timer = setTimeout(() => stop.abort(), SILENT_MS);
    const tried = sessionStorage.getItem(KEPT);
    try {
      const answer = await fetch("/v1/events", { headers: headers(), cache: "no-store", signal: stop.signal });
      if (answer.status === 401) {
        // Another may have been given while this one was on its way.
        if (sessionStorage.getItem(KEPT) === tried) await state("denied");
        failures = -1;
        continue;
      }
      if (!answer.ok) throw new Error(String(answer.status));
      for await (const event of events(answer.body, () => {
        clearTimeout(timer);
        timer = setTimeout(() => stop.abort(), SILENT_MS);
      })) {
        failures = 0;
        state("open");
        heard(event);
      }
    } catch {
      // The reason does not matter: the line is down, and is tried again.
    } finally {
      clearTimeout(timer);
    }
    state("lost");
    await new Promise((resolve) => setTimeout(resolve, PATIENCE_MS[Math.min(failures, PATIENCE_MS.length - 1)]));
  }
}

// The snapshots in a stream of server-sent events; `alive` is called with everything that comes.
async function* events(body, alive) {
  const reader = body.pipeThrough(new TextDecoderStream()).getReader();
  let text = "";
  for (;;) {
    const { value, done } = await reader.read();
    if (done) return;
    alive();
    text += value;
    const parts = text.split("\n\n");
    text = parts.pop();
    for (const part of parts) {
      const data = part.split("\n").find((line) => line.startsWith("data: "));
      if (data) yield JSON.parse(data.slice(6));
    }
  }
}
