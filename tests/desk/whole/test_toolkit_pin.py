"""The toolkit must count references rightly: a release that did not ended the process after a few thousand strokes."""

import subprocess
import sys

from tests.patience import PATIENCE_S

# In a process of its own: where the count is wrong, Python ends with "deallocating None".
STROKES = """
import sys
from PySide6.QtGui import QColor, QGuiApplication, QImage, QPainter, QPen
app = QGuiApplication(sys.argv[:1])
image = QImage(8, 8, QImage.Format.Format_ARGB32)
painter, pen = QPainter(image), QPen(QColor(0, 0, 0))
before = sys.getrefcount(None)
for _ in range(2000):
    painter.setPen(pen)
print(sys.getrefcount(None) - before)
painter.end()
"""


def test_setting_a_pen_two_thousand_times_leaves_the_references_to_none_alone():
    ended = subprocess.run(
        [sys.executable, "-c", STROKES], capture_output=True, text=True, timeout=PATIENCE_S, check=False
    )
    assert ended.returncode == 0, ended.stderr
    assert abs(int(ended.stdout)) < 20  # a wrong release loses one a stroke
