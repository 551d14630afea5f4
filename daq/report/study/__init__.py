"""The report of a measurement system study: one model, and the HTML and PDF made from it."""
