-- A history of schema 1, as the first version that had one wrote it: four cycles and events of the tests' invented machine.
-- Times are made even. Never change it: files like this are about.
PRAGMA application_id = 2053398900;
PRAGMA user_version = 1;
PRAGMA foreign_keys = OFF;
BEGIN TRANSACTION;
CREATE TABLE cycle (
        number INTEGER PRIMARY KEY REFERENCES entry (number),
        run TEXT NOT NULL,
        plate TEXT,
        nozzle TEXT,
        setup INTEGER NOT NULL REFERENCES setup (id),
        digest TEXT NOT NULL,               -- of the touches' values
        last_span INTEGER,                  -- lengths in 1/65536 mm
        last_span_u2 INTEGER,               -- variances in 1/2^44 mm^2
        verdict TEXT NOT NULL CHECK (verdict IN ('accept', 'refuse')),
        tip INTEGER, tip_u2 INTEGER,
        hang INTEGER, hang_u2 INTEGER,      -- the drop, which is a word of SQL
        span INTEGER, span_u2 INTEGER,
        result TEXT NOT NULL                -- JSON, as `land` gave it
    ) STRICT;
INSERT INTO "cycle" VALUES(1,'1','slate','brass',1,'d09aea4c1a4b831bbb173891ec815468ec2999c8b52a4c918fc6b6ba7c8a7fb0',NULL,NULL,'accept',32670,283534950400,434733,1435190165504,5342,1443981426688,'{"run":"1","plate":"slate","verdict":"accept","reasons":[],"landing":-0.059998,"landing_seen":-0.059998,"u":0.00514764,"expanded_u":0.01010877,"coverage_factor":1.96376,"dof":625,"coverage":0.95,"drop":6.633499,"rise":-0.558487,"span":0.081512,"span_u":0.00111914,"stations":{"tip":{"n":2,"centre":0.498497009,"spread":0.000992,"s":0.00070131,"u":0.00049591},"shoulder":{"n":2,"centre":7.131996155,"spread":0.001999,"s":0.00141346,"u":0.00099945},"plate":{"n":2,"centre":7.213500977,"spread":0.001007,"s":0.00071210,"u":0.00050354}},"corrections":{"speed":0.000000,"growth":0.000000},"budget":[{"source":"trip depth","u":0.00500000,"share":0.94345,"reduced_by":"a gauge check"},{"source":"shoulder touches","u":0.00099945,"share":0.03769,"reduced_by":"more touches, or a study"},{"source":"plate touches","u":0.00050354,"share":0.00957,"reduced_by":"more touches, or a study"},{"source":"tip touches","u":0.00049591,"share":0.00928,"reduced_by":"more touches, or a study"}]}');
INSERT INTO "cycle" VALUES(2,'2','slate','brass',1,'9af83f5334b2edf29106e2b1d3c73b3ea42a0ac61784c561777365ed9940cbbb',5342,1443981426688,'refuse',32670,283534950400,434733,1435190165504,31556,1435190165504,'{"run":"2","plate":"slate","verdict":"refuse","reasons":[{"refusal":"moved-too-far","seen":0.399994,"limit":0.246887,"advice":"Look for debris under the plate, make sure that the plate is the one named, and think of a crash since."}],"landing":null,"landing_seen":0.340012,"u":0.00514692,"expanded_u":0.01010722,"coverage_factor":1.96375,"dof":627,"coverage":0.95,"drop":6.633499,"rise":-0.158493,"span":0.481506,"span_u":0.00111574,"stations":{"tip":{"n":2,"centre":0.498497009,"spread":0.000992,"s":0.00070131,"u":0.00049591},"shoulder":{"n":2,"centre":7.131996155,"spread":0.001999,"s":0.00141346,"u":0.00099945},"plate":{"n":2,"centre":7.613502502,"spread":0.000992,"s":0.00070131,"u":0.00049591}},"corrections":{"speed":0.000000,"growth":0.000000},"budget":[{"source":"trip depth","u":0.00500000,"share":0.94373,"reduced_by":"a gauge check"},{"source":"shoulder touches","u":0.00099945,"share":0.0377,"reduced_by":"more touches, or a study"},{"source":"tip touches","u":0.00049591,"share":0.00928,"reduced_by":"more touches, or a study"},{"source":"plate touches","u":0.00049591,"share":0.00928,"reduced_by":"more touches, or a study"}]}');
INSERT INTO "cycle" VALUES(3,'3','slate','brass',1,'cb0f2d84cc485646af5bebecc0298e5b0d480195dfca51bff33de75ff1968e64',5342,1443981426688,'accept',32670,283534950400,434733,1435190165504,5473,1443981426688,'{"run":"3","plate":"slate","verdict":"accept","reasons":[],"landing":-0.057999,"landing_seen":-0.057999,"u":0.00514764,"expanded_u":0.01010877,"coverage_factor":1.96376,"dof":625,"coverage":0.95,"drop":6.633499,"rise":-0.556488,"span":0.083511,"span_u":0.00111914,"stations":{"tip":{"n":2,"centre":0.498497009,"spread":0.000992,"s":0.00070131,"u":0.00049591},"shoulder":{"n":2,"centre":7.131996155,"spread":0.001999,"s":0.00141346,"u":0.00099945},"plate":{"n":2,"centre":7.215499878,"spread":0.001007,"s":0.00071210,"u":0.00050354}},"corrections":{"speed":0.000000,"growth":0.000000},"budget":[{"source":"trip depth","u":0.00500000,"share":0.94345,"reduced_by":"a gauge check"},{"source":"shoulder touches","u":0.00099945,"share":0.03769,"reduced_by":"more touches, or a study"},{"source":"plate touches","u":0.00050354,"share":0.00957,"reduced_by":"more touches, or a study"},{"source":"tip touches","u":0.00049591,"share":0.00928,"reduced_by":"more touches, or a study"}]}');
CREATE TABLE entry (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        at INTEGER NOT NULL UNIQUE,         -- microseconds since 1970, UTC; the order
        tool TEXT NOT NULL,
        forgotten INTEGER                   -- since when
    ) STRICT;
INSERT INTO "entry" VALUES(1,1795608000000000,'0.1.0',NULL);
INSERT INTO "entry" VALUES(2,1795615200000000,'0.1.0',NULL);
INSERT INTO "entry" VALUES(3,1795618800000000,'0.1.0',1795640400000000);
INSERT INTO "entry" VALUES(4,1795611600000000,'0.1.0',NULL);
CREATE TABLE event (
        number INTEGER PRIMARY KEY REFERENCES entry (number),
        kind TEXT NOT NULL,
        plate TEXT,
        nozzle TEXT,
        text TEXT
    ) STRICT;
INSERT INTO "event" VALUES(4,'nozzle',NULL,'hard 0.4',NULL);
CREATE TABLE setup (
        id INTEGER PRIMARY KEY,
        digest TEXT NOT NULL UNIQUE,        -- SHA-256 of the text
        content TEXT NOT NULL               -- the machine file
    ) STRICT;
INSERT INTO "setup" VALUES(1,'f138b52015b7ae5bbfb336ec8a43110cbf5b8e6bd8ecbeff92cdcb3e3934c77b','# About this machine.
format = 1

[travel]                      # reach of the carriage
x = [0.0, 230.0]
y = [0.0, 215.0]
z = [-2.0, 200.0]
steps = [800, 1]

[stations]
tip = [204.0, 212.0]
shoulder = [204.0, 187.5]
plate = [112.0, 120.0]

[datum_switch]
tip_height = [0.2, 0.9]
overtravel = 2.0
latency_s = 0.0005
latency_u_s = 0.0002

[plate_switch]
latency_s = 0.0010
latency_u_s = 0.0005

[probe]
  trip_depth   =   0.640      # t, the one number
trip_depth_u = 0.005          # how sure
trimmed_at_speed = 2.0        # v0
drop = [6.0, 7.5]
free_height = 1.1

[plates]
rise = [-0.6, 0.8]
margin = 0.5

[touch]
first_speed = 8.0
fine_speed = 2.0
lift = 1.0
stop = 0.1
settle = 1
least = 5
most = 9
band = 0.020

[accept]
landing = [-1.0, 1.5]
shift = 0.25
expanded_u = 0.030
coverage = 0.95
# The last line, with no line end');
CREATE TABLE touch (
        cycle INTEGER NOT NULL REFERENCES cycle (number),
        place INTEGER NOT NULL,             -- in the order taken, from 0
        station TEXT NOT NULL,
        z TEXT NOT NULL,                    -- every cell as it was read
        kind TEXT, counted TEXT, time_s TEXT, speed TEXT, tool_c TEXT, bed_c TEXT, chamber_c TEXT,
        PRIMARY KEY (cycle, place)
    ) STRICT, WITHOUT ROWID;
INSERT INTO "touch" VALUES(1,0,'tip','0.4980',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(1,1,'tip','0.499',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(1,2,'shoulder','7.131',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(1,3,'shoulder','7.133',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(1,4,'plate','7.214',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(1,5,'plate','7.213',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(2,0,'tip','0.4980',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(2,1,'tip','0.499',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(2,2,'shoulder','7.131',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(2,3,'shoulder','7.133',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(2,4,'plate','7.614',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(2,5,'plate','7.613',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(3,0,'tip','0.4980',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(3,1,'tip','0.499',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(3,2,'shoulder','7.131',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(3,3,'shoulder','7.133',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(3,4,'plate','7.216',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "touch" VALUES(3,5,'plate','7.215',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
CREATE INDEX cycle_by_digest ON cycle (digest);
CREATE INDEX cycle_by_plate ON cycle (plate, verdict);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('entry',4);
COMMIT;
