"""Filling of textured triangles with a depth buffer."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Picture = NDArray[np.float32]
Index = NDArray[np.int32]


@njit(cache=True, fastmath=True)
def fill_triangles(
    colour: Picture,
    depth: Picture,
    vertices: Picture,
    triangles: Index,
    textures: Picture,
    nearest_m: float,
) -> None:
    """Fill triangles into a colour and a depth buffer, nearer ones before further ones.

    Parameters
    ----------
    colour, depth : ndarray, shape (h, w, 3) and (h, w)
        Changed in place; `depth` starts at infinity.
    vertices : ndarray, shape (n, 6)
        u, v in pixels, distance in metres, shade, texture column, texture row.
    triangles : ndarray, shape (m, 4)
        Three vertices and a texture.
    textures : ndarray, shape (k, rows, columns, 3)
        Repeated over their edges.
    nearest_m : float
        Triangles with a vertex nearer than this are left out.
    """
    height, width = depth.shape
    rows, columns = textures.shape[1], textures.shape[2]
    for t in range(len(triangles)):
        i, j, k, which = triangles[t, 0], triangles[t, 1], triangles[t, 2], triangles[t, 3]
        a, b, c = vertices[i], vertices[j], vertices[k]
        if a[2] < nearest_m or b[2] < nearest_m or c[2] < nearest_m:
            continue
        area = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])
        if abs(area) < 1e-6:
            continue
        left = max(0, int(np.ceil(min(a[0], b[0], c[0]) - 0.5)))
        right = min(width - 1, int(np.floor(max(a[0], b[0], c[0]) - 0.5)))
        top = max(0, int(np.ceil(min(a[1], b[1], c[1]) - 0.5)))
        bottom = min(height - 1, int(np.floor(max(a[1], b[1], c[1]) - 0.5)))
        near_a, near_b, near_c = 1 / a[2], 1 / b[2], 1 / c[2]
        for v in range(top, bottom + 1):
            y = v + 0.5
            for u in range(left, right + 1):
                x = u + 0.5
                wb = ((x - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (y - a[1])) / area
                wc = ((b[0] - a[0]) * (y - a[1]) - (x - a[0]) * (b[1] - a[1])) / area
                wa = 1 - wb - wc
                if wa < -1e-6 or wb < -1e-6 or wc < -1e-6:
                    continue
                near = wa * near_a + wb * near_b + wc * near_c
                if near * depth[v, u] <= 1:
                    continue
                distance = 1 / near
                wa, wb, wc = wa * near_a * distance, wb * near_b * distance, wc * near_c * distance
                shade = wa * a[3] + wb * b[3] + wc * c[3]
                across = wa * a[4] + wb * b[4] + wc * c[4] - 0.5
                down = wa * a[5] + wb * b[5] + wc * c[5] - 0.5
                column, row = int(np.floor(across)), int(np.floor(down))
                right_part, lower_part = across - column, down - row
                c0, c1 = column % columns, (column + 1) % columns
                r0, r1 = row % rows, (row + 1) % rows
                depth[v, u] = distance
                for channel in range(3):
                    upper = textures[which, r0, c0, channel] * (1 - right_part)
                    upper += textures[which, r0, c1, channel] * right_part
                    lower = textures[which, r1, c0, channel] * (1 - right_part)
                    lower += textures[which, r1, c1, channel] * right_part
                    colour[v, u, channel] = shade * (upper * (1 - lower_part) + lower * lower_part)


@njit(cache=True)
def add_moment(colour: Picture, cover: Picture, nearest: Picture, moment: Picture, depth: Picture) -> None:
    """Add one moment of an exposure to sums of colour and cover, and keep the nearest distance."""
    for v in range(depth.shape[0]):
        for u in range(depth.shape[1]):
            if depth[v, u] < 1e8:
                cover[v, u] += 1
                nearest[v, u] = min(nearest[v, u], depth[v, u])
                for channel in range(3):
                    colour[v, u, channel] += moment[v, u, channel]
