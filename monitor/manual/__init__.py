"""The pages of the manual that are made from the product itself: `python -m monitor.manual` writes them all."""
