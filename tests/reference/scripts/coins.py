# Outlines of the coins in tests/fixtures/coins.png by other code: scikit-image 0.26 and scipy 1.17.
#
# The photograph "Greek coins from Pompeii" comes with scikit-image (skimage.data.coins); its page says: downloaded from the
# Brooklyn Museum Collection, no known copyright restrictions. A real photograph of round things on uneven ground; their size
# is not known, so the unit is the pixel.
#
# Sobel edges flooded by a watershed from markers below 30 and above 150 grey levels, as is usual for this picture; holes
# filled; regions of at least 500 pixels. Writes x, y of the middle and the mean radius of each (of the circle of its area).
#
# python coins.py ../../fixtures/coins.png > ../coins.csv
import sys
import numpy as np
from scipy import ndimage
from skimage import filters, io, measure, segmentation

image = io.imread(sys.argv[1])
markers = np.zeros_like(image)
markers[image < 30] = 1
markers[image > 150] = 2
filled = ndimage.binary_fill_holes(segmentation.watershed(filters.sobel(image), markers) - 1)
print("x_px,y_px,radius_px")
for region in measure.regionprops(measure.label(filled)):
    if region.area >= 500:
        y, x = region.centroid
        # pixel middles stand at halves
        print(f"{x + 0.5:.2f},{y + 0.5:.2f},{np.sqrt(region.area / np.pi):.2f}")
