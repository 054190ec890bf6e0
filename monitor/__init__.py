"""The press-line monitor: files in, figures out."""

import os

# Matrices here are small: threads of the linear algebra cost more than they save, above all beside those that serve.
# It is read when numpy is imported, which is later than this.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
