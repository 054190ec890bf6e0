"""`python -m monitor.manual` writes every page that is made from the product."""

from monitor.manual.pages import write

if __name__ == "__main__":
    write()
