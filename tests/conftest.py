"""The suite collects garbage as seldom as the program does, which saves a tenth of reading back."""

import gc

from focuschart.__main__ import OBJECTS_BEFORE_COLLECTION

gc.set_threshold(OBJECTS_BEFORE_COLLECTION)
