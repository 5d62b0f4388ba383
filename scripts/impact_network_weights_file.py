"""Weights of the network that names impacts, between PyTorch and the file that the program reads.

Used by `train_impact_classifier.py`; needs PyTorch.
"""

from __future__ import annotations

import numpy as np
import torch
from torch import nn
from torch.nn import functional


def folded(conv: nn.Module, norm: nn.BatchNorm1d) -> tuple[torch.Tensor, torch.Tensor]:
    """Return weight and bias of a convolution with its norm put into it."""
    scale = norm.weight / torch.sqrt(norm.running_var + norm.eps)
    return conv.weight * scale[:, None, None], norm.bias - norm.running_mean * scale


def plain(network: nn.Module) -> dict[str, np.ndarray]:
    """Return the weights as the program reads them: norms folded in; matrices 8-bit, a scale for each row."""
    pairs = {
        "first": folded(network.first, network.first_norm),
        "halve": folded(network.halve, network.halve_norm),
    }
    for name in ("rises", "token", "answers"):
        pairs[name] = (getattr(network, name).weight, getattr(network, name).bias)
    pairs |= {f"block{i}": folded(b.conv, b.norm) for i, b in enumerate(network.blocks)}
    out = {"gain": network.gain}
    for i, layer in enumerate(network.layers):
        out |= {f"layer{i}.{k}": getattr(layer, k) for k in ("before", "after", "bias")}
        pairs |= {
            f"layer{i}.{k}": (m.weight, m.bias)
            for k in ("qkv", "out", "up", "down")
            for m in [getattr(layer, k)]
        }
    for name, (weight, bias) in pairs.items():
        out |= {f"{name}.w": weight, f"{name}.b": bias}
    arrays: dict[str, np.ndarray] = {}
    for name, value in out.items():
        full = value.detach().float().cpu().numpy()
        if not name.endswith(".w"):
            arrays[name] = full.astype(np.float16)
            continue
        size = np.abs(full).reshape(len(full), -1).max(axis=1) / 127 + 1e-12
        size = size.reshape(-1, *[1] * (full.ndim - 1)).astype(np.float32)
        arrays[name], arrays[f"{name}.scale"] = np.round(full / size).astype(np.int8), size
    return arrays


@torch.no_grad()
def restore(network: nn.Module, arrays: dict[str, np.ndarray], x: torch.Tensor) -> None:
    """Put weights of the program's file into a network.

    The norms that were folded in begin as they are on a batch `x` (recordings, bands, steps), so that the
    network answers as the file's does and learns on from there.
    """
    device = x.device

    def tensor(name: str) -> torch.Tensor:
        value = np.asarray(arrays[name] * arrays.get(f"{name}.scale", np.float32(1)), np.float32)
        return torch.from_numpy(value).to(device)

    for name in ("rises", "token", "answers"):
        getattr(network, name).weight.copy_(tensor(f"{name}.w"))
        getattr(network, name).bias.copy_(tensor(f"{name}.b"))
    network.gain.copy_(tensor("gain"))
    for i, layer in enumerate(network.layers):
        for k in ("before", "after", "bias"):
            getattr(layer, k).copy_(tensor(f"layer{i}.{k}"))
        for k in ("qkv", "out", "up", "down"):
            getattr(layer, k).weight.copy_(tensor(f"layer{i}.{k}.w"))
            getattr(layer, k).bias.copy_(tensor(f"layer{i}.{k}.b"))
    y = _settled(network.first, network.first_norm, tensor("first.w"), tensor("first.b"), x.transpose(1, 2))
    y = _settled(network.halve, network.halve_norm, tensor("halve.w"), tensor("halve.b"), y)
    for i, block in enumerate(network.blocks):
        y = y + _settled(block.conv, block.norm, tensor(f"block{i}.w"), tensor(f"block{i}.b"), y)


def _settled(
    conv: nn.Module, norm: nn.BatchNorm1d, weight: torch.Tensor, bias: torch.Tensor, x: torch.Tensor
) -> torch.Tensor:
    """Return a layer's answer, its norm set so that it takes nothing away from the weights."""
    conv.weight.copy_(weight)
    out = conv(x).float().flatten(0, 1)
    norm.running_mean.copy_(out.mean(0))
    norm.running_var.copy_(out.var(0))
    norm.weight.copy_(torch.sqrt(norm.running_var + norm.eps))
    norm.bias.copy_(bias + norm.running_mean)
    return functional.relu(conv(x) + bias)
