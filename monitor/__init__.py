"""The watch beside the cooker: readings in, recordings kept, progress estimated."""

import os

# numpy's linear algebra starts a thread for each core, which after every larger product spins for milliseconds in case
# another one follows. Ours are small, and a page that asks every two seconds paid more for the spinning than for all
# the rest. numpy reads this as it is loaded, so it is set before any module of this package can load it.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
