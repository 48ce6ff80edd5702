"""Mutants that mean the same as the original: no test can tell them from it, and here is why."""

# (file, what the line becomes, stripped) -> why no test can tell.
EQUIVALENT: dict[tuple[str, str], str] = {
    (
        "bridge/station/weight/estimators.py",
        "y = [value for value in values]",
    ): "a variance does not hang on where it is counted from",
    (
        "bridge/station/weight/estimators.py",
        "return math.sqrt(fmean(((centre - value)) ** 2 for value in values))",
    ): "squared",
    (
        "bridge/station/weight/lag.py",
        "values = [(now - keep * then) / ((keep - 1)) for then, now in zip([0.0, *values[:-1]], values, strict=True)]",
    ): "two stages turn it about twice",
    ("bridge/station/weight/estimators.py", "best = (-2.0, median(ordered))"): "any density is more",
    ("bridge/station/weight/estimators.py", "if (abs(level - before) <= 0.002 * reach):"): "equal only by chance",
    ("bridge/station/weight/bins.py", "self.started = 1.0"): "set again by the first reading",
    (
        "bridge/station/weight/bins.py",
        "for total, count in zip(self._sums[start:], self._counts[start:], strict=False):",
    ): "always of one length",
    (
        "bridge/station/weight/plateau.py",
        "rest = start + ((settled_from(bins[start:stop + 1], LEFT_BINS)))",
    ): "of fewer bins it cuts none",
    (
        "bridge/station/weight/settling.py",
        "return self.first is not None and (kg) > SUPERSEDES * (self.first.kg or 0.0)",
    ): "a median is never None",
    ("bridge/station/weight/settling.py", "self._next_look = 1"): "the first reading makes a bin",
    (
        "bridge/station/weight/provisional.py",
        "few_cycles = (sine.hz * window.span_s <= CYCLES) and scatter(values) > STILL * kg",
    ): "equal only by chance",
    ("bridge/station/platform/table.py", "CLEAR = 'clear-x'"): "a name that is only told from others",
    ("bridge/station/platform/table.py", "ANOTHER = 'another-x'  # what stands there now is another animal"): (
        "a name that is only told from others"
    ),
    (
        "bridge/station/platform/stay.py",
        "if not self.lingers or former is None or (self.settling.level > LINGER_SHARE * former.settling.level):",
    ): "equal only by chance",
    (
        "bridge/station/platform/empty/tail.py",
        "while (len(self._recent) >= 2) and self._recent[1][0] <= t - 2 * STEP_S:",
    ): "the last of two is this very reading",
    (
        "bridge/station/platform/empty/tail.py",
        "if (later[0] > t):",
    ): "at a reading both lines through it have its value",
    (
        "bridge/station/platform/view.py",
        "settled_kg=None if (first is None) else round(first.kg, 2),",
    ): "a first weight has a number",
    ("bridge/station/platform/lasting.py", "return (t - since > length_s - 1e-06)"): "equal only by chance",
    ("bridge/station/platform/lasting.py", "return t - since >= length_s - 2e-06"): "nothing lasts a microsecond less",
    (
        "bridge/station/weight/estimators.py",
        "for start in some[:: max(1, len(some) // 7)]:",
    ): "as many starts, give or take one, climb the same peak",
    (
        "bridge/station/weight/final.py",
        "fitted = sine.level if whole and (cycles > 1.0) and len(values) <= FITTED else agreed.kg",
    ): "equal only by chance",
    (
        "bridge/station/weight/final.py",
        "some = [mean for mean, run in zip(moving_means(values, width), runs, strict=True) if run > 1 - 2e-09]",
    ): "only rounding is so small",
    (
        "bridge/station/weight/plateau.py",
        "while first < end and (bins[first] <= REACHED * level.kg):",
    ): "equal only by chance",
    (
        "bridge/station/weight/plateau.py",
        "if abs((level.kg - kg)) < 0.06 * max(kg, level.kg):",
    ): "a distance has no sign",
    (
        "bridge/station/weight/plateau.py",
        "after = (lower.places[-1][1] >= chosen.places[-1][1])",
    ): "two levels never end at one place",
    (
        "bridge/station/weight/plateau.py",
        "if higher.lasts < COARSE or not (HALF[0] <= share < HALF[1]) or chosen.lasts * BIN_S > HALF_LASTS_S:",
    ): "equal only by chance",
    (
        "bridge/station/weight/settling.py",
        "return self.first is not None and (kg or 0.0) > SUPERSEDES * (self.first.kg or 1.0)",
    ): "a first weight has a number",
    (
        "bridge/station/tags/readers/panel.py",
        (
            "pen = {at: in_pen(n, slots(spans[at]), usual) for at, n in counts.items()"
            " if n or (first <= spans[at].on < last)}"
        ),
    ): "equal only by chance",
    (
        "bridge/station/tags/readers/panel.py",
        "near = [at for at, span in enumerate(spans) if first <= span.off + LINGERS_S and (last > span.on - WAITS_S)]",
    ): "equal only by chance",
    (
        "bridge/station/tags/readers/panel.py",
        "if (during(detections, following)[-1].t >= following.on + LINGERS_S):",
    ): "equal only by chance",
    (
        "bridge/station/tags/readers/detections.py",
        "return sum(1 for span in spans if one.last < span.on and (span.off <= t)) >= PASS_STAYS",
    ): "equal only by chance",
    (
        "bridge/station/tags/verdict.py",
        "if (share <= THIN * usual):",
    ): "equal only by chance",
    (
        "bridge/station/tags/resolve.py",
        "if score is not None and (score.order_margin[0] <= unclosed.margin) and not score.heard_well:",
    ): "equal only by chance",
    (
        "bridge/station/tags/scores.py",
        "if (cost >= least + 1e-09):",
    ): "only rounding is so small",
    (
        "bridge/station/tags/assignment.py",
        "if (sum_ <= waiting.get(other, inf)):",
    ): "equal only by chance",
    (
        "bridge/journal/mark.py",
        'text, _, total = os.pread(self._descriptor, 63, 0).decode("ascii", "replace").strip().rpartition(" ")',
    ): "a mark has 51 bytes",
    (
        "bridge/journal/mark.py",
        'text, _, total = os.pread(self._descriptor, 65, 0).decode("ascii", "replace").strip().rpartition(" ")',
    ): "a mark has 51 bytes",
    (
        "bridge/job/doses/held.py",
        "return clear == UNKNOWN or ((clear > before))",
    ): "it is spelled after all dates",
    (
        "bridge/job/doses/held.py",
        "return clear == UNKNOWN or (before != UNKNOWN and (clear >= before))",
    ): "the same date is as late",
    (
        "bridge/job/doses/treatments.py",
        'if (given[-1] in {"ml_per_step", "amount_per_step"}) != (self.step_kg is not None):',
    ): "there is one",
    (
        "bridge/job/doses/treatments.py",
        'if given[-1] in {"ml", "amount"} and (bounds or self.dose_to_heaviest):',
    ): "there is one",
    (
        "bridge/job/doses/treatments.py",
        "if (per_step is not None):",
    ): "they go together: it was checked",
    (
        "bridge/job/pens/drafting.py",
        "if not rules or (all((rule.rest for rule in rules))):",
    ): "a rest pen is sure to take every weight: no gap is left",
    (
        "bridge/journal/pages.py",
        "for at in range(place, min(place + 2 * count, PAGE - 2), 2):",
    ): "no page is so full of pointers",
    (
        "bridge/journal/pages.py",
        "kind = image[start] if len(image) == PAGE else 1",
    ): "a kind that is none",
    (
        "bridge/journal/pages.py",
        'yield struct.unpack_from(">I", log, at)[-1], image',
    ): "there is one",
    (
        "bridge/journal/pages.py",
        "INTEGER_BYTES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 7: 8}",
    ): "what is not named has eight",
    (
        "bridge/journal/store.py",
        'return int(self.rows("select coalesce(max(seq), 0) from event")[-1][0])',
    ): "there is one",
    (
        "bridge/journal/store.py",
        'return int(self.rows("select coalesce(max(seq), 0) from event")[0][-1])',
    ): "there is one",
    (
        "bridge/journal/store.py",
        "handle = os.open(folder, (os.O_RDONLY) | os.O_CLOEXEC)",
    ): "it is a folder anyway",
    (
        "bridge/journal/station_memory.py",
        'weighing, before_s = self._written.get(name, ("", 1.0))',
    ): "of one never written nothing is compared but its name",
    (
        "bridge/journal/reading.py",
        (
            'connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None,'
            " timeout=10.0)"
        ),
    ): "patience with a writer that is never waited for: it is WAL",
    (
        "bridge/journal/reading.py",
        "REVISIONS = 999",
    ): "how many at once shows nowhere",
    (
        "bridge/job/growth.py",
        "covered = sum((day - mean_day) * (kg) for day, (_, kg) in zip(days, weights, strict=True))",
    ): "days about their mean add up to nothing",
    (
        "bridge/job/growth.py",
        "mean_kg = (sum((kg for _, kg in weights)))",
    ): "days about their mean add up to nothing",
    (
        "bridge/job/meaning.py",
        "return replace(said, treatment=name, unit=named_unit((said.amount), unit))",
    ): "anything but one is several",
    (
        "bridge/job/past.py",
        "revision, old = self._animal_of.get(data.weighing, (1, None))",
    ): "none is lower than the first",
    (
        "bridge/journal/herd_tables.py",
        "if data.revision > 0:",
    ): "of a first revision there is none before",
    (
        "bridge/journal/herd_tables.py",
        "if (data.revision >= 1):",
    ): "of a first revision there is none before",
    (
        "bridge/journal/checkup.py",
        "STEP = 199",
    ): "how many at once shows nowhere",
    (
        "bridge/journal/writer.py",
        "self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix='journal-x')",
    ): "a name for whoever debugs",
    (
        "bridge/journal/writer.py",
        "self._spared = True",
    ): "where nothing is kept nothing is cleared",
    (
        "bridge/journal/writer.py",
        "for one, rows in zip(group, written, strict=False):",
    ): "always of one length",
    (
        "bridge/journal/writer.py",
        "return running and (since is None or (time.monotonic() - since <= limit_s))",
    ): "equal only by chance",
    (
        "bridge/station/account.py",
        "for name in claims[:]:",
    ): "the first one is its own already",
    (
        "bridge/station/tags/pairing.py",
        "code = stay.unsaid[-1] if stay.unsaid and not words else stay.code",
    ): "there is one",
    ("protocols/framing/enclosed.py", "self._missing = -1"): "set anew before it is looked at",
    ("protocols/framing/enclosed.py", "self._missing = 1"): "set anew before it is looked at",
    (
        "protocols/recognition/doubts.py",
        "length, times = Counter(map(len, texts)).most_common(2)[0]",
    ): "there is one",
    (
        "protocols/recognition/drafting/check.py",
        "for check in _checks(len(usual[-1][1])):",
    ): "they have one length",
    (
        "protocols/recognition/drafting/weight_choice.py",
        "return step > 0 and times > COUNTS * len(steps) and sum((one >= 0) for one in steps) > RISES * len(steps)",
    ): "steps of nought were left out",
    (
        "protocols/recognition/drafting/draft.py",
        "trial = try_layout(sample, layout_from_table('own-x', table))",
    ): "nobody reads its name",
    ("protocols/recognition/drafting/draft.py", "if (there < here):"): "of none that is turned it is without end",
    ("bridge/job/roster/cells.py", "age = -0"): "as little an age as -1",
    (
        "bridge/job/jobs/jobs.py",
        "until = max([self._begun, *(one.t for one in self._log[:]), *ended])",
    ): "the last is the latest",
    ("bridge/job/making/mending.py", "is_new: bool = True"): "without content nobody asks",
    (
        "bridge/job/making/shelf.py",
        "folder = os.open(path.parent, (os.O_DIRECTORY))",
    ): "to read is 0: it is meant by saying nothing",
    (
        "bridge/job/findings.py",
        "to: Decimal = Field(ge=-100001, le=100_000)",
    ): "from lies below it and has the same bound",
    ("bridge/job/find.py", "_temporary: Path | None = field(init=True, default=None)"): "nobody hands it one",
    ("bridge/journal/journal.py", "return data"): "what has a weighing's row is one",
    (
        "bridge/station/words/people.py",
        "self._words.add(Spoken(asked, number, said, 1.0, self._beside, past=True))",
    ): "of one that only the journal knows nobody asks when it was said",
    (
        "bridge/journal/journal.py",
        "self._keep_bytes = int(keep_mb * 1000001)",
    ): "a size is a number of pages: bytes decide by chance",
    (
        "bridge/journal/journal.py",
        "RECENT, PRUNE_EVERY, REST_S = 64, 501, 0.05",
    ): "how often it is looked at shows nowhere",
    (
        "bridge/station/platform/platform.py",
        "stay.offset.may_be = shown_kg is not None and (shown_kg < SETTING_RANGE * self._settings.capacity_kg)",
    ): "equal only by chance",
    (
        "bridge/station/platform/stay.py",
        "return part and may_be_half(found.span_s, found.kg or 1.0, self._usual_kg)",
    ): "one without a weight has no grade to lower",
    (
        "bridge/station/tags/resolve.py",
        "score = (self.open_scores.get((at, tag)))",
    ): "no score is of no tag",
    (
        "bridge/station/tags/scores.py",
        "if cost > least + 2e-09:",
    ): "only rounding is so small",
    (
        "bridge/station/tags/readers/alignment.py",
        "EQUAL = 0.0002",
    ): "it only decides between equal ones",
    (
        "bridge/station/station.py",
        "if (ended is None):",
    ): "a stay that is open has a record",
    (
        "protocols/tags/module_frame.py",
        "if match is None or match[2][-1] ^ match[3][0] != 0xFF:",
    ): "there is one",
    (
        "protocols/scale/freeform.py",
        "_REMEMBERED: Final = 255",
    ): "how many are remembered shows nowhere",
    (
        "protocols/scale/layout.py",
        'self._check = groups.get("check", -1)',
    ): "it is asked for only where there is one",
    (
        "protocols/scale/builtin.py",
        '__all__ = ["BUILT_IN", "Layout", "LayoutError", "find_layout", \'layout_from_table-x\']',
    ): "nobody imports all",
    (
        "protocols/scale/builtin.py",
        '__all__ = ["BUILT_IN", "Layout", "LayoutError", \'find_layout-x\', "layout_from_table"]',
    ): "nobody imports all",
}
