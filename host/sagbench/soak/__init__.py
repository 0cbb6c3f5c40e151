"""One chip, measured again and again while it warms, is cooled or tapped: what comes and goes, what drifts.

course.py is what was seen and what follows; run.py the loop; page.py its page with plots.

SPDX-License-Identifier: MIT
"""
