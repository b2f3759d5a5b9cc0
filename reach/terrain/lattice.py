"""Where the samples of a regular grid lie: projected exactly at some of them, straight between."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Transformer

from reach.terrain.rasters import is_latitude_longitude

FloatArray = NDArray[np.float64]

STEP_SAMPLES = 16  # between exactly projected samples; a few centimetres off in between on a 30 m grid


@dataclass(frozen=True)
class Lattice:
    """Samples of a grid, row by row, by nodes whose places are known.

    node_latitude_deg, node_longitude_deg : (nodes down, nodes across), at least two each way; inf where a
        projection has no place. Longitudes run on past 180 degrees: nothing to jump over between two nodes.
    at_row : (rows,), at_column : (columns,) - where each row and column of samples lies among the nodes.
    """

    node_latitude_deg: FloatArray
    node_longitude_deg: FloatArray
    at_row: FloatArray
    at_column: FloatArray

    def rows(self, first: int, last: int) -> Lattice:
        """The lattice of some of its rows, with the nodes about them."""
        at_row = self.at_row[first:last]
        above = min(int(at_row[0]), self.node_latitude_deg.shape[0] - 2)
        below = max(int(np.ceil(at_row[-1])), above + 1) + 1
        return replace(
            self,
            node_latitude_deg=self.node_latitude_deg[above:below],
            node_longitude_deg=self.node_longitude_deg[above:below],
            at_row=at_row - above,
        )

    def cells_near(self, boxes_deg: FloatArray, margin_deg: FloatArray) -> NDArray[np.bool_]:
        """Which cells between four nodes come near to one of some boxes, round the globe.

        boxes_deg : (n, 4) west, south, east, north; margin_deg : (n, 2) across and down.
        Returns : (nodes down - 1, nodes across - 1).
        """
        corners = [
            np.stack((nodes[:-1, :-1], nodes[:-1, 1:], nodes[1:, :-1], nodes[1:, 1:]))
            for nodes in (self.node_longitude_deg, self.node_latitude_deg)
        ]
        (west, south), (east, north) = ([part.min(0) for part in corners], [part.max(0) for part in corners])
        near = np.zeros(west.shape, dtype=np.bool_)
        with np.errstate(invalid="ignore"):  # cells that a projection has no place for are near to none
            for (left, bottom, right, top), (across, down) in zip(boxes_deg, margin_deg, strict=True):
                between = np.mod((left + right - west - east) / 2.0 + 180.0, 360.0) - 180.0
                beside = np.abs(between) <= (right - left + east - west) / 2.0 + across
                near |= beside & (south <= top + down) & (north >= bottom - down)
        return near

    def places(self) -> tuple[FloatArray, FloatArray]:
        """(latitude, longitude) of every sample, degrees, each (rows, columns)."""
        return self._between(self.node_latitude_deg), self._between(self.node_longitude_deg)

    def _between(self, nodes: FloatArray) -> FloatArray:
        i = np.minimum(self.at_row.astype(np.int64), nodes.shape[0] - 2)
        j = np.minimum(self.at_column.astype(np.int64), nodes.shape[1] - 2)
        fi, fj = (self.at_row - i)[:, None], (self.at_column - j)[None, :]
        along = nodes[:, j] * (1.0 - fj) + nodes[:, j + 1] * fj
        between: FloatArray = along[i] * (1.0 - fi) + along[i + 1] * fi
        return between


def lattice_of(crs: CRS, transform: Affine, *, rows: int, columns: int, finer: int = 1) -> Lattice:
    """The samples of a north-up grid: its pixels' centres, or `finer` squared of them in every pixel."""
    x = transform.c + transform.a * (np.arange(columns * finer) + 0.5) / finer
    y = transform.f + transform.e * (np.arange(rows * finer) + 0.5) / finer
    if is_latitude_longitude(crs):  # nothing to project: every sample of the edges is a node
        (node_x, at_column), (node_y, at_row) = _nodes(x, 1), _nodes(y, 1)
        longitude, latitude = np.meshgrid(node_x, node_y, copy=False)
        return Lattice(latitude, longitude, at_row, at_column)
    (node_x, at_column), (node_y, at_row) = _nodes(x, STEP_SAMPLES), _nodes(y, STEP_SAMPLES)
    to_lonlat = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    longitude, latitude = to_lonlat.transform(*np.meshgrid(node_x, node_y))
    middle = longitude[node_y.size // 2, node_x.size // 2]
    longitude = longitude - 360.0 * np.rint((longitude - middle) / 360.0)
    return Lattice(np.asarray(latitude), longitude, at_row, at_column)


def _nodes(values: FloatArray, step: int) -> tuple[FloatArray, FloatArray]:
    """About every `step`-th of evenly spaced values (at least two), and where each value lies among those."""
    if values.size == 1:
        return np.repeat(values, 2), np.zeros(1)
    if step == 1:
        return values, np.arange(values.size, dtype=np.float64)
    count = max(2, -(-values.size // step) + 1)
    return np.linspace(values[0], values[-1], count), np.linspace(0.0, count - 1.0, values.size)
