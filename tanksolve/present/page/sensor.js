/* The tilt sensor of a phone or tablet, laid flat on the machine with its upper edge to the nose. */
"use strict";
const Sensor = (() => {
  /* Offer the sensor by a button where there is one; `tilt(up)` takes each reading. */
  function offer(button, told, tilt) {
    if (typeof DeviceOrientationEvent === "undefined" || !window.matchMedia("(pointer: coarse)").matches) return;
    let on = false, heard = false;
    const listen = (event) => {
      if (event.beta === null || event.gamma === null) return;
      heard = true;
      tilt(upOf(event.beta, event.gamma));
    };
    const say = (text) => { told.hidden = !text; told.textContent = text; };
    const set = (value) => {
      on = value;
      button.setAttribute("aria-pressed", String(on));
      window[on ? "addEventListener" : "removeEventListener"]("deviceorientation", listen);
      say(on ? "Lay the phone flat on the machine, its upper edge towards the nose." : "");
      if (on) setTimeout(() => { if (on && !heard) { set(false); say("No reading came: this browser keeps the sensor from pages opened from a file."); } }, 1500);
    };
    button.hidden = false;
    button.addEventListener("click", async () => {
      if (on) { set(false); return; }
      try {
        if (DeviceOrientationEvent.requestPermission && (await DeviceOrientationEvent.requestPermission()) !== "granted") { say("The sensor was not allowed."); return; }
        set(true);
      } catch { say("The sensor was not allowed."); }
    });
  }

  /* Up as seen from the machine: beta turns the phone about its x axis (upper edge up positive), gamma about
     its y axis (right edge down positive), in the order Z-X'-Y'' of the Device Orientation specification. */
  function upOf(beta, gamma) {
    const b = beta * Words.DEG, g = gamma * Words.DEG;
    const right = -Math.cos(b) * Math.sin(g), forward = Math.sin(b), up = Math.cos(b) * Math.cos(g);
    return up > 0 ? [forward, -right, up] : [0, 0, 1];
  }

  return { offer, upOf };
})();
