"""Charts, one module a kind: a frame goes in, a Plotly figure comes out; no files, no clock, no settings."""
