"""Writes assets/cie_1931_2deg_5nm.csv: the colour-matching functions of the CIE 1931 2 degree
standard observer (CIE 015), every 5 nm from 360 to 830 nm.

    pip install colour-science==0.4.7
    python3 tests/reference/cie_1931_2deg_5nm.py > assets/cie_1931_2deg_5nm.csv

Only the numbers are taken; they are CIE's own table, which the package carries at 1 nm. Where it
holds a rounding error of 1e-21 below nought, CIE's table says nought.
"""

from colour import MSDS_CMFS

observer = MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
print("wavelength_nm,x_bar,y_bar,z_bar")
for wavelength in range(360, 831, 5):
    x_bar, y_bar, z_bar = (max(value, 0.0) for value in observer[wavelength])
    print(f"{wavelength},{x_bar:.12g},{y_bar:.12g},{z_bar:.12g}")
