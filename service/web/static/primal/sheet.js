// Printing the page prints the cutting sheet alone: the stylesheet sees to that, and this to a button for it.

const button = document.getElementById("print");
button.hidden = false;
button.addEventListener("click", () => window.print());
