"use strict";
// The one stream of this browser: HTTP/1.1 allows six connections a host, and a page may have
// more tabs. Hidden pages speak once a minute at most.
const pages = new Map();
const state = {now: {}, sound: {}};
let at = 0;
function open() {
  const source = new EventSource("/events");
  source.onmessage = (event) => {
    const news = JSON.parse(event.data);
    Object.assign(state.now, news.now);
    Object.assign(state.sound, news.sound);
    state.version = news.version;
    at = performance.now();
    for (const [page, heard] of pages) {
      if (at - heard > 150000) pages.delete(page);
      else page.postMessage(news);
    }
  };
  source.onerror = () => { if (source.readyState === 2) setTimeout(open, 1000); };
}
onconnect = (event) => {
  const page = event.ports[0];
  page.onmessage = () => pages.set(page, performance.now());
  pages.set(page, performance.now());
  if (at) page.postMessage({...state, held: performance.now() - at});
};
open();
