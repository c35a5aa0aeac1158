// Browsers start no worker from a page on the disk; the site's search then runs in a hidden frame instead.
if (location.protocol === "file:") {
  window.IFrameWorker = window.Worker = class extends EventTarget {
    constructor(url) {
      super();
      const frame = document.createElement("iframe");
      frame.hidden = true;
      document.documentElement.append(frame);
      const inside = frame.contentWindow;
      this.deliver = inside.postMessage.bind(inside);
      // What the script in the frame posts comes out here.
      inside.postMessage = (data) => this.dispatchEvent(new MessageEvent("message", { data }));
      inside.importScripts = (...urls) => Promise.all(urls.map((one) => this.load(inside.document, one)));
      this.ready = this.load(inside.document, new URL(url, location.href).href);
    }

    load(page, src) {
      return new Promise((done, failed) => {
        const script = page.createElement("script");
        Object.assign(script, { src, onload: done, onerror: failed });
        page.documentElement.append(script);
      });
    }

    postMessage(data) {
      this.ready.then(() => this.deliver(data, "*"));
    }
  };
}
