"""What runs cost. Pages are drawn by pandoc and typst, as after the set-up alone, whatever else is on PATH.
DRAW_BY=quarto before a command measures Quarto.
"""

import os

from pipeline.publishing import engines

os.environ.setdefault(engines.DRAW_BY, engines.PANDOC)
