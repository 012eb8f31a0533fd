"""The program: its window and its commands; what they show is computed in `core`."""

import os

# No matrix here is large: threads for them would be waited for, which costs a start an eighth of its time.
# Numpy reads this once, when it is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
