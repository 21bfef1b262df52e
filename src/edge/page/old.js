// A browser that is too old for the other script shows the page as it is, and anew every now and then.
window.onerror = function () { setTimeout(function () { location.reload(); }, 20000); };
