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
CHANNELS = 64
BLOCKS = 10  # dilations 1 … 512 at 50 frames a second: 41 s to either side
KERNEL = 5
TEMPI = 60  # bins of tempo, thirty an octave from 40 BPM
METRES = (2, 3, 4)
OUTPUTS = 3 + TEMPI + len(METRES)  # beat, downbeat, heard, tempo, metre
CROP = 3000  # frames of 20 ms
ROWS = ("loud", "to_beat", "to_downbeat", "bpm", "still", "judged")


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
    """All examples in memory of the device, end to end, from which crops are drawn."""

    def __init__(self, folder: Path, device: torch.device) -> None:
        self.device = device
        paths = sorted(folder.glob("*.npz"))
        gathered: dict[str, list[torch.Tensor]] = {name: [] for name in ROWS}
        metres = []
        for path in paths:
            with np.load(path) as held:
                for name in ROWS:
                    gathered[name].append(torch.from_numpy(held[name]))
                per_bar = int(held["beats_per_bar"])
            metres.append(METRES.index(per_bar) if per_bar in METRES else -100)
        self.kinds = [path.name.split("-")[0] for path in paths]
        self.metre = torch.tensor(metres, device=device)
        counts = torch.tensor([len(rows) for rows in gathered["loud"]])
        self.counts = counts.to(device)
        self.firsts = (counts.cumsum(0) - counts).to(device)
        self.rows = {name: torch.cat(gathered.pop(name)).to(device) for name in ROWS}

    def batch(self, chosen: torch.Tensor, chance: torch.Generator, varied: bool) -> Any:
        """Return what the network sees of `chosen`, the targets, and their metres."""

        def drawn(low: float, high: float) -> torch.Tensor:
            shape = (len(chosen), 1)
            return torch.rand(shape, device=self.device, generator=chance) * (high - low) + low

        factor = torch.exp(drawn(-0.12, 0.12)) if varied else torch.ones_like(drawn(0, 1))
        counts, firsts = self.counts[chosen][:, None], self.firsts[chosen][:, None]
        spare = (counts - 2 * CROP * factor - 1).clamp(min=0)
        start = torch.floor(spare * drawn(0, 1))
        at = (start + torch.arange(2 * CROP, device=self.device) * factor).round().long()
        inside = at < counts
        at = firsts + torch.minimum(at, counts - 1)
        seen = self.rows["loud"][at].float() * inside[:, :, None]
        if varied:
            seen = self._varied(seen, drawn)
        seen = seen.reshape(len(chosen), CROP, 2, BANDS).permute(0, 2, 1, 3)
        even = at[:, ::2]
        still = self.rows["still"][even]
        keep = inside[:, ::2] & self.rows["judged"][even]
        last = firsts + counts - 1
        targets = [
            self._near("to_beat", even, last, factor),
            self._near("to_downbeat", even, last, factor),
            (~still).float(),
            30 * torch.log2(self.rows["bpm"][even].float() * factor / 40),
            (keep & ~still).float(),
            keep.float(),
        ]
        return seen, targets, self.metre[chosen]

    def _varied(self, seen: torch.Tensor, drawn: Any) -> torch.Tensor:
        """Move the bands up or down by up to three, make louder or softer, take a few away."""
        bands = torch.arange(BANDS, device=self.device)[None, :]
        source = bands - torch.floor(drawn(-3, 4)).long()
        known = (source >= 0) & (source < BANDS)
        low, wide = drawn(0, 70), drawn(4, 25) * (drawn(0, 1) < 0.3)
        known &= ~((bands >= low) & (bands < low + wide))
        places = source.clamp(0, BANDS - 1)[:, None, :].expand(-1, seen.shape[1], -1)
        moved = seen.gather(2, places) * known[:, None, :]
        # The sum of three even draws, near enough to a bell of standard deviation 0.6.
        louder = torch.exp(1.2 * (drawn(0, 1) + drawn(0, 1) + drawn(0, 1) - 1.5))
        return torch.log1p(torch.expm1(moved) * louder[:, :, None])

    def _near(
        self, name: str, at: torch.Tensor, last: torch.Tensor, factor: torch.Tensor
    ) -> torch.Tensor:
        # Rows are at 10 ms and the network's frames lie between two of them, 5 ms on.
        first = self.rows[name][at].float()
        second = self.rows[name][torch.minimum(at + 1, last)].float()
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
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    chance = torch.Generator(device).manual_seed(seed)
    examples = Examples(folder, device)
    held = torch.arange(len(examples.kinds), device=device) % 25 == 7
    learning, checking = torch.nonzero(~held)[:, 0], torch.nonzero(held)[:, 0]
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
        drawn = torch.randint(len(learning), (batch,), device=device, generator=chance)
        seen, targets, metre = examples.batch(learning[drawn], chance, True)
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
        if step % 50 == 0:  # asking for the loss waits for the device
            report = loss.item() if step == 50 else 0.7 * report + 0.3 * loss.item()
        if step % 2000 == 0:
            checked = _checked(slow.module, examples, checking)
            print(f"{step} steps, {share:.2f}: {report:.4f}, held back {checked}", flush=True)
    slow.module.eval()
    return slow.module


@torch.no_grad()
def _checked(network: nn.Module, examples: Examples, checking: torch.Tensor) -> str:
    network.eval()
    chance = torch.Generator(examples.device).manual_seed(0)
    by_kind: dict[str, list[float]] = {}
    for start in range(0, len(checking), 16):
        chosen = checking[start : start + 16]
        seen, targets, metre = examples.batch(chosen, chance, False)
        out = network(seen)
        for row, index in enumerate(chosen.tolist()):
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
