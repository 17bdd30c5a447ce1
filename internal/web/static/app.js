// Lets the pages open without a signal.
"use strict";
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/sw.js");
