"""Facts kept in step with the rows: which press-days new rows change, and folding those anew."""
