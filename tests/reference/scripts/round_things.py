# Outlines of two real round things photographed, by other code: scikit-image 0.26 and scipy 1.17.
#
# dish.jpg: a culture dish of 90 mm seen from above, one of the pictures that metrics-petri 3.0.0 (MIT, terms beside them) carries
# in its source archive on PyPI; its page names 90 mm as the size of its dishes. The rim is clear plastic on a dark cloth.
# stem_section.png: a stained cross-section of a stem with a bar of 1000 um beside it, docs/_images/input-02.png of
# napari-tree-rings 0.1.5 (MIT, terms beside them) as PyPI carries it; made grey and halved (means of two by two pixels), nothing else.
#
# Each is the largest region beyond a level of grey, holes filled. Writes middle, mean radius (of the circle of its area) and the
# radius every 10 degrees clockwise from straight up, all in pixels; and the length of the stem's bar in pixels.
#
# python round_things.py ../../fixtures > ../round_things.csv
import sys
import numpy as np
from scipy import ndimage
from skimage import color, filters, io, measure


def outline(mask):
    """Middle, mean radius and radii of the largest region of a mask."""
    labels = measure.label(mask)
    largest = max(measure.regionprops(labels), key=lambda r: r.area).label
    filled = ndimage.binary_fill_holes(np.pad(labels == largest, 2))
    y, x = ndimage.center_of_mass(filled)
    rim = max(measure.find_contours(ndimage.gaussian_filter(filled.astype(float), 1), 0.5), key=len)
    angle = np.degrees(np.arctan2(rim[:, 1] - x, y - rim[:, 0])) % 360
    reach = np.hypot(rim[:, 0] - y, rim[:, 1] - x)
    order = np.argsort(angle)
    angle, reach = angle[order], reach[order]
    radii = np.interp(np.arange(0, 360, 10), np.r_[angle - 360, angle, angle + 360], np.tile(reach, 3))
    # pixel middles stand at halves
    return [x - 1.5, y - 1.5, np.sqrt(filled.sum() / np.pi), *radii]


folder = sys.argv[1]
dish = ndimage.gaussian_filter(color.rgb2gray(io.imread(f"{folder}/dish.jpg")), 1)
stem = io.imread(f"{folder}/stem_section.png") / 255
bright = dish > filters.threshold_otsu(dish)
dark = stem < (filters.threshold_otsu(stem) + 1) / 2
# the bar: the longest straight run of dark pixels right of and below the section
corner = (stem < 0.5)[380:, 440:]
bar = max(len(run) for row in corner for run in "".join("#" if d else " " for d in row).split())
print("what,bar_px,x_px,y_px,radius_px," + ",".join(f"r{a}" for a in range(0, 360, 10)))
print("dish,," + ",".join(f"{v:.2f}" for v in outline(ndimage.binary_opening(bright, iterations=5))))
print(f"stem,{bar}," + ",".join(f"{v:.2f}" for v in outline(ndimage.binary_opening(dark, iterations=2))))
