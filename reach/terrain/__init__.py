"""Elevation and land cover from any raster GDAL reads; profiles along geodesics."""
