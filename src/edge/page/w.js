setInterval(() => postMessage(0), 1000);
