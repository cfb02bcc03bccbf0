"""longlens: from marks on published photographs of a car to millimetres with honest intervals."""

import os as _os

# The matrices here are small: threads inside the linear algebra cost more than they give, many times more on a busy machine.
# Whoever wants them sets the variable before.
_os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
