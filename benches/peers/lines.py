"""Lines that general-purpose libraries find on the pictures of a folder.

Usage: lines.py FOLDER. Reads NNN.png in order, writes answers.json:
{library: [{"lines": [[[x, y], ...], ...], "cpu_s": seconds}, ...]}, pixel coordinates from the centre of the
top-left pixel. Settings are the libraries' own defaults where they have any. Both are also run on the levelled picture
(slow changes of grey taken off, local contrast made even), because a user of them would try that first.
"""

import json
import sys
import time
from pathlib import Path

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter
from skimage.filters import sato
from skimage.morphology import remove_small_objects, skeletonize
from skimage.transform import probabilistic_hough_line

# Shorter segments are noise on any picture of this kind.
SHORTEST_PX = 20
# Levelling: background and contrast over this many pixels (standard deviation of a Gaussian).
BACKGROUND_PX = 8.0
CONTRAST_PX = 40.0


def levelled(grey):
    values = grey.astype(float)
    rest = values - gaussian_filter(values, BACKGROUND_PX)
    spread = np.sqrt(gaussian_filter(rest**2, CONTRAST_PX)) + 1e-6
    return np.clip(128.0 + 32.0 * rest / spread, 0, 255).astype(np.uint8)


def segment_detector(grey):
    found = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD).detect(grey)[0]
    if found is None:
        return []
    # The detector counts from the corner of the first pixel.
    segments = found.reshape(-1, 4) - 0.5
    length = np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
    return [[[float(a), float(b)], [float(c), float(d)]] for a, b, c, d in segments[length >= SHORTEST_PX]]


def ridges(grey):
    values = grey.astype(float) / 255.0
    widths = [1.0, 2.0, 3.0]
    ridge = np.maximum(sato(values, sigmas=widths, black_ridges=True), sato(values, sigmas=widths, black_ridges=False))
    mask = ridge > np.quantile(ridge, 0.95)
    skeleton = skeletonize(remove_small_objects(mask, max_size=29))
    lines = probabilistic_hough_line(skeleton, threshold=10, line_length=SHORTEST_PX, line_gap=4, rng=1)
    return [[[float(a), float(b)], [float(c), float(d)]] for (a, b), (c, d) in lines]


def main(folder):
    cv2.setNumThreads(1)
    answers = {}
    peers = [
        ("line segment detector", segment_detector),
        ("the same, levelled", lambda grey: segment_detector(levelled(grey))),
        ("ridge + Hough", ridges),
        ("ridge levelled", lambda grey: ridges(levelled(grey))),
    ]
    for name, find in peers:
        answers[name] = []
        for path in sorted(folder.glob("*.png")):
            grey = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
            start = time.process_time()
            lines = find(grey)
            answers[name].append({"lines": lines, "cpu_s": time.process_time() - start})
    (folder / "answers.json").write_text(json.dumps(answers))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
