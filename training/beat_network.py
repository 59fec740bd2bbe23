"""Train the network that hears beats, and write its weights for `rondel.listening.network`.

    python -m training.beat_network EXAMPLES OUT.npz [--minutes 8] [--seed 1]

EXAMPLES is what `python -m training.examples` made. Needs torch (extra `train`); runs on a GPU
where there is one, else on the CPU, where ten minutes give a weaker network. The shipped weights,
their material and how long they were trained are in docs/decisions/0010-how-a-track-is-heard.md.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import nn
from torch.nn import functional

BANDS = 81
CHANNELS = 48
BLOCKS = 10  # dilations 1 … 512 at 50 frames a second: 41 s to either side
KERNEL = 5
TEMPI = 60  # bins of tempo, thirty an octave from 40 BPM
METRES = (2, 3, 4)
OUTPUTS = 3 + TEMPI + len(METRES)  # beat, downbeat, heard, tempo, metre
CROP = 3000  # frames of 20 ms


class BeatNetwork(nn.Module):
    """(batch, 2, frames, BANDS) to (batch, OUTPUTS, frames), all as logits."""

    def __init__(self, channels: int = CHANNELS) -> None:
        super().__init__()
        self.front = nn.ModuleList(
            [
                nn.Conv2d(2, 16, (3, 3), padding=(1, 1), bias=False),
                nn.Conv2d(16, 24, (3, 3), padding=(1, 1), bias=False),
                nn.Conv2d(24, channels, (1, 9), bias=False),
            ]
        )
        self.front_norm = nn.ModuleList(nn.BatchNorm2d(n) for n in (16, 24, channels))
        self.wide = nn.ModuleList(
            nn.Conv1d(channels, channels, KERNEL, dilation=2**k, padding=2 * 2**k, bias=False)
            for k in range(BLOCKS)
        )
        self.wide_norm = nn.ModuleList(nn.BatchNorm1d(channels) for _ in range(BLOCKS))
        self.mix = nn.ModuleList(nn.Conv1d(channels, channels, 1) for _ in range(BLOCKS))
        self.head = nn.Conv1d(channels, OUTPUTS, 1)
        self.drop = nn.Dropout(0.1)

    def forward(self, seen: torch.Tensor) -> torch.Tensor:
        x = seen
        for index, (conv, norm) in enumerate(zip(self.front, self.front_norm, strict=True)):
            x = functional.relu(norm(conv(x)))
            if index < 2:
                x = functional.max_pool2d(x, (1, 3))
        x = x.squeeze(3)
        gathered: torch.Tensor | float = 0.0
        for conv, norm, mix in zip(self.wide, self.wide_norm, self.mix, strict=True):
            inner = mix(self.drop(functional.relu(norm(conv(x)))))
            gathered = gathered + inner
            x = x + inner
        return self.head(functional.relu(gathered))


class Examples:
    """All examples in memory of the device, from which crops are drawn."""

    def __init__(self, folder: Path, device: torch.device) -> None:
        self.device = device
        paths = sorted(folder.glob("*.npz"))
        names = ("loud", "to_beat", "to_downbeat", "bpm", "still", "judged")
        self.rows: dict[str, list[torch.Tensor]] = {name: [] for name in names}
        self.metre: list[int] = []
        self.kinds = [path.name.split("-")[0] for path in paths]
        for path in paths:
            with np.load(path) as held:
                for name in names:
                    self.rows[name].append(torch.from_numpy(held[name]).to(device))
                per_bar = int(held["beats_per_bar"])
            self.metre.append(METRES.index(per_bar) if per_bar in METRES else -100)

    def batch(self, chosen: np.ndarray, rng: np.random.Generator, varied: bool) -> Any:
        seen, targets = [], []
        for index in chosen:
            loud = self.rows["loud"][index]
            factor = float(np.exp(rng.uniform(-0.12, 0.12))) if varied else 1.0
            need = int(2 * CROP * factor) + 2
            start = int(rng.integers(0, max(1, len(loud) - need + 1)))
            at = start + torch.arange(2 * CROP, device=self.device) * factor
            at = at.round().long()
            inside = at < len(loud)
            at = at.clamp(max=len(loud) - 1)
            x = loud[at].float() * inside[:, None]
            if varied:
                shift = int(rng.integers(-3, 4))
                x = torch.roll(x, shift, 1)
                if shift > 0:
                    x[:, :shift] = 0
                elif shift < 0:
                    x[:, shift:] = 0
                x = torch.log1p(torch.expm1(x) * float(np.exp(rng.normal(0, 0.6))))
                if rng.random() < 0.3:
                    low = int(rng.integers(0, 70))
                    x[:, low : low + int(rng.integers(4, 25))] = 0
            seen.append(x.reshape(CROP, 2, BANDS).permute(1, 0, 2))
            even = at[::2]
            keep = inside[::2] & self.rows["judged"][index][even]
            still = self.rows["still"][index][even]
            targets.append(
                (
                    self._near("to_beat", index, even, factor),
                    self._near("to_downbeat", index, even, factor),
                    (~still).float(),
                    30 * torch.log2(self.rows["bpm"][index][even].float() * factor / 40),
                    (keep & ~still).float(),
                    keep.float(),
                )
            )
        stacked = [torch.stack(parts) for parts in zip(*targets, strict=True)]
        metre = torch.tensor([self.metre[i] for i in chosen], device=self.device)
        return torch.stack(seen), stacked, metre

    def _near(self, name: str, index: int, at: torch.Tensor, factor: float) -> torch.Tensor:
        # Rows are at 10 ms and the network's frames lie between two of them, 5 ms on.
        first = self.rows[name][index][at].float()
        second = self.rows[name][index][(at + 1).clamp(max=len(self.rows[name][index]) - 1)].float()
        distance = (first + second) / 2 / factor
        return (1.15 - distance / 0.03).clamp(0, 1)


def loss_of(out: torch.Tensor, targets: list[torch.Tensor], metre: torch.Tensor) -> torch.Tensor:
    """Return the loss: beats and downbeats where one is heard, the rest wherever judged."""
    beat, downbeat, heard, tempo, beating, keep = targets
    logits = out.float()

    def binary(row: int, target: torch.Tensor, weight: torch.Tensor) -> torch.Tensor:
        raw = functional.binary_cross_entropy_with_logits(logits[:, row], target, reduction="none")
        return (raw * weight).sum() / weight.sum().clamp(min=1)

    bins = torch.arange(TEMPI, device=out.device)
    near = torch.exp(-0.5 * ((bins[None, :, None] - tempo[:, None]) / 1.0) ** 2)
    near = near / near.sum(1, keepdim=True).clamp(min=1e-6)
    choice = -(near * logits[:, 3 : 3 + TEMPI].log_softmax(1)).sum(1)
    tempo_loss = (choice * beating).sum() / beating.sum().clamp(min=1)
    frames = out.shape[2]
    labels = metre[:, None].expand(-1, frames).clone()
    labels[beating < 0.5] = -100
    metre_loss = functional.cross_entropy(logits[:, 3 + TEMPI :], labels, ignore_index=-100)
    silent = 0.1 * keep * (1 - beating)  # where nothing beats, no beat is claimed, mildly
    return (
        binary(0, beat * beating, beating + silent)
        + binary(1, downbeat * beating, beating + silent)
        + 0.2 * binary(2, heard, keep)
        + 0.05 * tempo_loss
        + 0.05 * metre_loss
    )


def train(folder: Path, minutes: float, seed: int, batch: int, channels: int) -> BeatNetwork:
    """Return the averaged network after `minutes` of training."""
    torch.manual_seed(seed)
    rng = np.random.default_rng(seed)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    examples = Examples(folder, device)
    count = len(examples.metre)
    held = np.arange(count) % 25 == 7
    learning, checking = np.flatnonzero(~held), np.flatnonzero(held)
    print(f"{len(learning)} examples to learn from, {len(checking)} to check", flush=True)
    network = BeatNetwork(channels).to(device)
    slow = torch.optim.swa_utils.AveragedModel(
        network, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.998), use_buffers=True
    )
    print(sum(p.numel() for p in network.parameters()), "parameters", flush=True)
    optimiser = torch.optim.AdamW(network.parameters(), lr=3e-3, weight_decay=0.02)
    began, step, report = time.monotonic(), 0, 0.0
    while (share := (time.monotonic() - began) / (60 * minutes)) < 1:
        rate = 3e-3 * min(1, step / 200) * (0.5 + 0.5 * np.cos(np.pi * share)) + 1e-5
        for group in optimiser.param_groups:
            group["lr"] = rate
        seen, targets, metre = examples.batch(rng.choice(learning, batch), rng, True)
        network.train()
        with torch.autocast(device.type, dtype=torch.bfloat16):
            out = network(seen)
        loss = loss_of(out, targets, metre)
        optimiser.zero_grad()
        loss.backward()
        nn.utils.clip_grad_norm_(network.parameters(), 1.0)
        optimiser.step()
        slow.update_parameters(network)
        step += 1
        report = loss.item() if report == 0 else 0.98 * report + 0.02 * loss.item()
        if step % 500 == 0:
            checked = _checked(slow.module, examples, checking)
            print(f"{step} steps, {share:.2f}: {report:.4f}, held back {checked}", flush=True)
    slow.module.eval()
    return slow.module


@torch.no_grad()
def _checked(network: nn.Module, examples: Examples, checking: np.ndarray) -> str:
    network.eval()
    rng = np.random.default_rng(0)
    by_kind: dict[str, list[float]] = {}
    for start in range(0, len(checking), 16):
        chosen = checking[start : start + 16]
        seen, targets, metre = examples.batch(chosen, rng, False)
        out = network(seen)
        for row, index in enumerate(chosen):
            one = [t[row : row + 1] for t in targets]
            value = loss_of(out[row : row + 1], one, metre[row : row + 1]).item()
            by_kind.setdefault(examples.kinds[index], []).append(value)
    return ", ".join(f"{kind} {np.nanmean(values):.3f}" for kind, values in by_kind.items())


def weights_of(network: BeatNetwork) -> dict[str, np.ndarray]:
    """Return the weights with the norms folded in, as float16, named as the reader expects."""

    def folded(conv: Any, norm: Any) -> tuple[np.ndarray, np.ndarray]:
        scale = norm.weight / torch.sqrt(norm.running_var + norm.eps)
        shape = (-1, *([1] * (conv.weight.dim() - 1)))
        weight = conv.weight * scale.reshape(shape)
        return weight.detach().cpu().numpy(), (
            (norm.bias - norm.running_mean * scale).detach().cpu().numpy()
        )

    out: dict[str, np.ndarray] = {}
    for name, convs, norms in (
        ("front", network.front, network.front_norm),
        ("wide", network.wide, network.wide_norm),
    ):
        for index, (conv, norm) in enumerate(zip(convs, norms, strict=True)):
            out[f"{name}{index}_weight"], out[f"{name}{index}_bias"] = folded(conv, norm)
    for index, mix in enumerate(network.mix):
        out[f"mix{index}_weight"] = mix.weight.detach().cpu().numpy()[:, :, 0]
        out[f"mix{index}_bias"] = mix.bias.detach().cpu().numpy()
    out["head_weight"] = network.head.weight.detach().cpu().numpy()[:, :, 0]
    out["head_bias"] = network.head.bias.detach().cpu().numpy()
    return {name: value.astype(np.float16) for name, value in out.items()}


def main() -> None:
    parser = argparse.ArgumentParser(description="Train the network that hears beats.")
    parser.add_argument("examples", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--minutes", type=float, default=8.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", type=int, default=32)
    parser.add_argument("--channels", type=int, default=CHANNELS)
    parser.add_argument("--probe", type=Path, help="also write a small input with its output")
    asked = parser.parse_args()
    network = train(asked.examples, asked.minutes, asked.seed, asked.batch, asked.channels)
    np.savez_compressed(asked.out, **weights_of(network))
    if asked.probe:
        device = next(network.parameters()).device
        seen = torch.rand(1, 2, 700, BANDS, generator=torch.Generator().manual_seed(1)) * 3
        with torch.no_grad():
            said = network(seen.to(device))
        np.savez_compressed(asked.probe, seen=seen.numpy(), said=said.float().cpu().numpy())


if __name__ == "__main__":
    main()
