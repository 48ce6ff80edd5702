"""A hundred mistakes of a person, and what is said of each: the file, the place, what is wrong, what would be right."""

CONFIG = """\
site = "larkmoor"

[links.indicator]
url = "tcp://127.0.0.1:4001"
layout = "auto"

[links.panel]
url = "tcp://127.0.0.1:4002"

[stations.crush]
scale = "indicator"
readers = [{ link = "panel", position = "platform" }]
capacity_kg = 2000
sheet = "sheet.toml"

[outlets.events]
file = "events.jsonl"

[outlets.farm]
mqtt = "mqtt://127.0.0.1:1883"

[page]
listen = "127.0.0.1:8370"
"""
SHEET = """\
title = "autumn weigh-in"
mob = "dairy-beef steers"
roster = "roster.csv"

[details]
sex = "steer"

[[treatments]]
name = "oral drench"
ml_per_step = 5.0
step_kg = 50
round_to_ml = 5.0
withhold_days = 28

[[draft]]
pen = "heavy"
at_least_kg = 340
[[draft]]
pen = "light"
"""
ROW = "999000000112233,101,steer,270,2026-09-23\n"
ROSTER = f"tag,visual,sex,last_kg,last_date\n{ROW}"

IN_CONFIG: list[tuple[str, str, str]] = [
    ('site = "larkmoor"', "site = larkmoor", "line 1: this line cannot be read: site = larkmoor"),
    (
        'site = "larkmoor"',
        'site = "Lark Moor"',
        "line 1, site: 'Lark Moor' has the wrong form: write up to 32 small letters, digits, -",
    ),
    ('site = "larkmoor"\n', "", "site: the key 'site' is missing"),
    ('site = "larkmoor"', "site = 7", "line 1, site: must be text, not 7"),
    ('site = "larkmoor"', 'sight = "larkmoor"', "site: the key 'site' is missing"),
    ("[links.indicator]", "[link.indicator]", "link: unknown key 'link'.  Did you mean 'links'?"),
    ("[links.indicator]", "links.indicator", "line 3: this line cannot be read: links.indicator"),
    (
        "[links.indicator]",
        "[links.Indicator]",
        "line 3, [links.Indicator]: 'Indicator' has the wrong form: write up to 32 small",
    ),
    (
        "tcp://127.0.0.1:4001",
        "tcp://127.0.0.1",
        "line 3, [links.indicator]: 'tcp://127.0.0.1' needs a host and a port, as in",
    ),
    (
        "tcp://127.0.0.1:4001",
        "127.0.0.1:4001",
        "line 3, [links.indicator]: '127.0.0.1:4001' is no link; write tcp://127.0.0.1:4001",
    ),
    ("tcp://127.0.0.1:4001", "COM3", "line 3, [links.indicator]: 'COM3' is no link; write one like"),
    ("tcp://127.0.0.1:4001", "/dev/ttyUSB0", "line 3, [links.indicator]: '/dev/ttyUSB0' is no link; write"),
    (
        "tcp://127.0.0.1:4001",
        "serial:/dev/ttyUSB0?baud=fast",
        "line 3, [links.indicator]: 'serial:/dev/ttyUSB0?baud=fast': baud=fast is not",
    ),
    (
        "tcp://127.0.0.1:4001",
        "serial:/dev/ttyUSB0?baud=9600,8",
        "line 3, [links.indicator]: 'serial:/dev/ttyUSB0?baud=9600,8': baud=9600,8 is not",
    ),
    (
        "tcp://127.0.0.1:4001",
        "serial:ttyUSB0",
        "line 3, [links.indicator]: 'serial:ttyUSB0' needs the port's path, as in",
    ),
    (
        "tcp://127.0.0.1:4001",
        "tcp://127.0.0.1:99999",
        "line 3, [links.indicator]: 'tcp://127.0.0.1:99999' needs a host and a port, as in",
    ),
    (
        "tcp://127.0.0.1:4001",
        "ble:12:34",
        "line 3, [links.indicator]: 'ble:12:34' needs the device's Bluetooth address, as in",
    ),
    (
        "tcp://127.0.0.1:4002",
        "tcp://127.0.0.1:4001",
        "[links.panel] url: is the url of link 'indicator' too.  Right only if",
    ),
    (
        'tcp://127.0.0.1:4001"\nlayout = "auto"\n\n[links.panel]\nurl = "tcp://127.0.0.1:4002',
        'serial:/dev/ttyS0"\nlayout = "auto"\n\n[links.panel]\nurl = "serial:/dev/ttyS0',
        "line 8, [links.panel] url: is the url of link 'indicator' already",
    ),
    (
        '"auto"',
        '"weight-units"',
        "line 5, [links.indicator] layout: there is no layout 'weight-units'; there are auto,",
    ),
    ('"auto"', "auto", "line 5: this line cannot be read: layout = auto"),
    ('layout = "auto"', 'layot = "auto"', "line 5, [links.indicator] layot: unknown key 'layot'"),
    ('scale = "indicator"', 'scale = "indicater"', "line 11, [stations.crush] scale: there is no link 'indicater'"),
    ('scale = "indicator"\n', "", "line 10, [stations.crush] scale: the key 'scale' is missing"),
    ('scale = "indicator"', 'scale = ["indicator"]', "line 11, [stations.crush] scale: must be text, not a list"),
    (
        'position = "platform"',
        'position = "side"',
        "line 12, [stations.crush.readers] position: must be 'platform', 'ahead' or 'hand', not",
    ),
    ('link = "panel"', 'link = "panell"', "line 12, [stations.crush.readers] link: there is no link 'panell'"),
    (
        'readers = [{ link = "panel", position = "platform" }]',
        'readers = ["panel"]',
        "line 12, [stations.crush] readers: must be a table, not 'panel'",
    ),
    (
        'readers = [{ link = "panel", position = "platform" }]',
        'readers = "panel"',
        "line 12, [stations.crush] readers: must be a list, not 'panel'",
    ),
    (
        'readers = [{ link = "panel", position = "platform" }]',
        'readers = { link = "panel" }',
        "line 12, [stations.crush] readers: must be a list, not a table",
    ),
    ("capacity_kg = 2000", "capacity_kg = 2,000", "line 13: this line cannot be read: capacity_kg = 2,000"),
    (
        "capacity_kg = 2000",
        'capacity_kg = "2000 kg"',
        "line 13, [stations.crush] capacity_kg: must be a number, not '2000 kg'",
    ),
    ("capacity_kg = 2000", "capacity_kg = -5", "line 13, [stations.crush] capacity_kg: must be more than 0, not -5"),
    ("capacity_kg = 2000", "capacity = 2000", "line 13, [stations.crush] capacity: unknown key 'capacity'"),
    ("capacity_kg = 2000", "capacity_kg = 2000 kg", "line 13: this line cannot be read: capacity_kg = 2000 kg"),
    ("sheet.toml", "sheets.toml", "sheets.toml: file: there is no such file"),
    ('"events.jsonl"', "true", "line 17, [outlets.events] file: must be text, not true"),
    (
        'file = "events.jsonl"',
        'file = "events.jsonl"\nmqtt = "mqtt://127.0.0.1"',
        'line 16, [outlets.events]: an outlet has either file = "events.jsonl" or mqtt =',
    ),
    ('file = "events.jsonl"', "", 'line 16, [outlets.events]: an outlet has either file = "events.jsonl" or mqtt ='),
    (
        "mqtt://127.0.0.1:1883",
        "127.0.0.1",
        "line 19, [outlets.farm]: mqtt is written mqtt://host:port, or mqtts://host:port for TLS",
    ),
    (
        "mqtt://127.0.0.1:1883",
        "http://127.0.0.1",
        "line 19, [outlets.farm]: mqtt is written mqtt://host:port, or mqtts://host:port for TLS",
    ),
    (
        'mqtt = "mqtt://127.0.0.1:1883"',
        'mqtt = "mqtt://127.0.0.1:1883"\npassword = "x"',
        "line 21, [outlets.farm] password: unknown key 'password'",
    ),
    (
        'mqtt = "mqtt://127.0.0.1:1883"',
        'mqtt = "mqtt://127.0.0.1:1883"\nusername = "x"\npassword_file = "nosuch"',
        "nosuch is not there, or this user may not see it",
    ),
    ("127.0.0.1:8370", "8370", "line 23, [page] listen: '8370' has the wrong form: write an address of this box and a"),
    (
        "127.0.0.1:8370",
        "192.168.1.5",
        "line 23, [page] listen: '192.168.1.5' has the wrong form: write an address of this box",
    ),
    ("[page]", "[pages]", "line 22, [pages]: unknown key 'pages'"),
    ("[stations.crush]", "[stations.crush]\n[stations.crush]", "line 11: [stations.crush] is there twice"),
    (
        "[stations.crush]",
        '[stations."the crush"]',
        "line 10, [stations.the crush]: 'the crush' has the wrong form: write up to 32 small",
    ),
    ("[outlets.farm]", "[outlets.events]", "line 19: [outlets.events] is there twice"),
    ("[page]", '[journal]\nkeep_days = "ten"\n[page]', "line 23, [journal] keep_days: must be a number, not 'ten'"),
    ("[page]", "[capture]\nfolder = 5\n[page]", "line 23, [capture] folder: must be text, not 5"),
]
"""What neckyoke.toml should have, what it has, and what is said."""

IN_SHEET: list[tuple[str, str, str]] = [
    ('title = "autumn weigh-in"\n', "", "title: the key 'title' is missing"),
    ('"autumn weigh-in"', "“autumn weigh-in”", "line 1: this line cannot be read: title = “autumn weigh-in”"),
    ('"roster.csv"', '"rooster.csv"', "rooster.csv: file: there is no such file"),
    ("[[treatments]]", "[treatments]", "line 8, [treatments]: must be a list, not a table"),
    ("[[draft]]", "[draft]", "line 18: [[draft]] is there twice"),
    ("ml_per_step = 5.0", "ml_per_step = 5,0", "line 10: this line cannot be read: ml_per_step = 5,0"),
    ("ml_per_step = 5.0", 'ml_per_step = "5 ml"', "line 10, [treatments] ml_per_step: must be a number, not '5 ml'"),
    ("ml_per_step = 5.0", "ml_per_step = -5.0", "line 10, [treatments] ml_per_step: must be more than 0, not -5.0"),
    ("step_kg = 50\n", "", "line 8, [treatments]: treatment 'oral drench': ml_per_step and step_kg go together, as"),
    (
        "ml_per_step = 5.0",
        "ml_per_step = 5.0\nml = 3",
        "line 8, [treatments]: treatment 'oral drench' has more than one of ml_per_kg,",
    ),
    (
        "ml_per_step = 5.0\n",
        "",
        "line 8, [treatments]: treatment 'oral drench' has none of ml_per_kg, ml_per_step (with",
    ),
    ("withhold_days = 28", "withold_days = 28", "line 13, [treatments] withold_days: unknown key 'withold_days'"),
    (
        "withhold_days = 28",
        'withhold_days = "28 days"',
        "line 13, [treatments] withhold_days: must be a whole number, not '28 days'",
    ),
    ("withhold_days = 28", "withhold_days = -1", "line 13, [treatments] withhold_days: must be at least 0, not -1"),
    ("at_least_kg = 340", "at_least = 340", "line 17, [draft] at_least: unknown key 'at_least'"),
    (
        "at_least_kg = 340",
        "at_least_kg = 340\nbelow_kg = 300",
        "line 15, [draft]: pen 'heavy': nothing lies between at_least_kg and below_kg: 340 is",
    ),
    ('pen = "heavy"', "", "line 15, [draft] pen: the key 'pen' is missing"),
    ('sex = "steer"', 'sex = "stear"', "line 6, [details] sex: 'stear' is no sex known here. Did you mean 'steer'?"),
    ('mob = "dairy', 'path = "x"\nmob = "dairy', "line 2, path: unknown key 'path'"),
    ('sex = "steer"', "born = 2026-13-01", "line 6: this line cannot be read: born = 2026-13-01"),
    ('sex = "steer"', "born = 24/09/2026", "line 6: this line cannot be read: born = 24/09/2026"),
    ('name = "oral drench"', 'name = ""', "line 9, [treatments] name: must not be empty"),
    (
        "at_least_kg = 340",
        'match = { breeed = "x" }',
        "[[draft]] heavy: 'breeed' is neither a detail nor a roster column, so no animal matches",
    ),
]
"""What sheet.toml should have, what it has, and what is said."""

IN_ROSTER: list[tuple[str, str, str]] = [
    (ROSTER, "", "file: is empty.  The first row names the columns: tag,visual,…"),
    ("tag,visual,sex,last_kg,last_date\n", "", "row 1, column tag: there is no such column"),
    ("999000000112233", "9.82E+14", "row 2, column tag: '9.82E+14' has lost digits"),
    ("999000000112233", "99900000011223", "row 2, column tag: '99900000011223' has 14 digits, not 15"),
    ("2026-09-23", "2999-09-23", "row 2, column last_date: 2999-09-23 is after today"),
    ("2026-09-23", "31/31/2026", "row 2, column last_date: '31/31/2026' is no date"),
    ("270", "27O", "row 2, column last_kg: '27O' is not in kg, as its column says"),
    ("last_kg", "weight", "row 1, column weight: the unit is missing"),
    ("tag,visual", "number,name", "row 1, column tag: there is no such column"),
    (ROSTER, ROSTER + ROW, "row 3, column tag: 999000000112233 is on row 2 already"),
    (ROSTER, "PK\x03\x04xx", "file: is a spreadsheet program's own file"),
]
"""What roster.csv should have, what it has, and what is said."""

COMMANDS: list[tuple[str, str]] = [
    ("check nosuch.toml", "nosuch.toml: file: there is no such file"),
    ("check .", ".: file: is a folder"),
    ("check roster.csv", "roster.csv: line 1: this line cannot be read: tag,visual,sex,last_kg,last_date"),
    ("check events.jsonl", "events.jsonl: title: the key 'title' is missing"),
    ("chek", "neckyoke: there is no 'chek'"),
    ("run sheet.toml", "sheet.toml: file: is a job sheet, not a configuration"),
    (
        "export events.jsonl --out nodir/x.csv",
        "nodir/x.csv: there is no such file or folder; make the folder first, or name another",
    ),
    ("export events.jsonl --columns tga", "export: columns: there is no column 'tga'"),
    ("export nosuch.jsonl", "nosuch.jsonl: file: there is no such file"),
    ("export roster.csv", "roster.csv: file: holds no events"),
    ("export", "neckyoke.db; the daemon makes it when it first runs"),
    ("export sheet.toml", "sheet.toml: file: holds no events"),
    ("export events.jsonl --out .", ".: is a folder; name a file"),
    (
        "tally events.jsonl --html nodir/x.html",
        "nodir/x.html: there is no such file or folder; make the folder first, or name another",
    ),
    (
        "tally events.jsonl --picture nodir/x.svg",
        "nodir/x.svg: there is no such file or folder; make the folder first, or name another",
    ),
    ("tally events.jsonl --since yesterday", "tally: --since: 'yesterday' is no date or time"),
    ("tally events.jsonl --animal nobody", "no weighing names nobody"),
    ("tally events.jsonl --sheet nosuch.toml", "nosuch.toml: file: there is no such file"),
    ("tally events.jsonl --sheet neckyoke.toml", "neckyoke.toml: file: is a configuration, not a job sheet"),
    ("tally", "neckyoke.db; the daemon makes it when it first runs"),
    ("demo --fast --animals -3", "neckyoke demo: --animals: '-3' is no number of animals: write one from 1 to 10000"),
    (
        "demo --fast --animals many",
        "neckyoke demo: --animals: 'many' is no number of animals: write one from 1 to 10000",
    ),
    ("demo --fast --animals 0", "neckyoke demo: --animals: '0' is no number of animals: write one from 1 to 10000"),
    (
        "demo --fast --folder /proc/x",
        "/proc/x: there is no such file or folder; make the folder first, or name another",
    ),
    ("demo --fast --folder roster.csv", "roster.csv: is there already, and is no folder; name another"),
    ("replay nosuch.jsonl", "nosuch.jsonl: there is no such file or folder; make the folder first, or name another"),
    ("replay roster.csv", "roster.csv is no capture: it is empty, or its first line is broken"),
    ("replay .", ". holds no capture-*.jsonl.gz that can be read"),
    ("replay events.jsonl --out nodir/x", "events.jsonl is no capture: it is empty, or its first line is broken"),
    (
        "replay cap.jsonl --journal nosuch.db",
        "nosuch.db: journal: there is no journal at nosuch.db; the daemon makes it when it first",
    ),
    ("replay cap.jsonl --explain 17", "Nothing here has a weighing 17"),
    ("status", "neckyoke.sock; start it with: neckyoke run"),
    ("watch", "neckyoke.sock; start it with: neckyoke run"),
    ("tell note", "write what to note, as in: neckyoke tell note lame, near hind"),
    ("tell identify 105", "105 is too short for a tag"),
    ("tell identify", "neckyoke.sock; start it with: neckyoke run"),
    ("tell zero now", "zero takes no words"),
    ("tell sheet nosuch.toml", "give the path of a job sheet"),
    ("tell void --number x", "neckyoke tell: --number: 'x' is no whole number"),
    ("tell nothing", "neckyoke tell: there is no 'nothing'"),
    ("tell correct 999", "999 is too short for a tag"),
    ("page code --config nosuch.toml", "nosuch.toml: file: there is no such file"),
    ("listen COM3", "'COM3' is no link; write one like serial:/dev/serial/by-id/usb-adapter-port0?baud=9600,"),
    ("listen serial:/dev/nosuch", "/dev/nosuch is not there: is the cable in, and the device on?"),
    ("listen", "neckyoke listen: url is missing"),
    ("schema weighings", "neckyoke schema: there is no 'weighings'"),
    ("service instal", "neckyoke service: there is no 'instal'"),
    (
        "service install --root /proc/x",
        "/proc/x: there is no such file or folder; make the folder first, or name another",
    ),
    ("ports x", "neckyoke ports: unrecognized arguments: x"),
]
"""What is typed, and what is said."""
