PRAGMA foreign_keys=OFF;
PRAGMA application_id=1399880040;
PRAGMA user_version=3;
BEGIN TRANSACTION;
CREATE TABLE events (
    id               INTEGER PRIMARY KEY, -- in the order of writing, without gaps
    firing           INTEGER NOT NULL,    -- 0 for events of the shop itself
    uid              INTEGER NOT NULL,    -- made by the writer; the same again is a retry
    at_ms            INTEGER NOT NULL,    -- when it happened, milliseconds since 1970 in UTC
    written_after_ms INTEGER NOT NULL,    -- how much later it was written
    offset_min       INTEGER NOT NULL,    -- what the clock on the wall was ahead of UTC
    writer           INTEGER NOT NULL REFERENCES writers (id),
    kind             INTEGER NOT NULL,
    version          INTEGER NOT NULL,    -- of this kind's fields
    celsius          REAL,                -- of a reading
    seal             INTEGER NOT NULL,    -- a check sum over the rest, against a failing disk
    body             TEXT                 -- the fields of any other kind, as a JSON object
) STRICT;
INSERT INTO "events" VALUES(1,0,120071266695831,1795961426701,0,0,1,3,1,NULL,27472,'{"name":"gold","cone":"018","cone_family":"self-supporting","under_cones":0.5,"over_cones":0.5,"under":"fire_again","over":"lost","usual_length_min":300.0,"cautions":["The medium burns off below 500 C: vent the kiln and the room well, and keep out of the fumes.","Over-fired gold discolours and lifts, and nothing brings it back: be at the kiln near the end.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(2,0,100704317193345,1795961426701,0,0,1,3,1,NULL,18951,'{"name":"lustre","cone":"019","cone_family":"self-supporting","under_cones":0.5,"over_cones":0.5,"under":"fire_again","over":"lost","usual_length_min":300.0,"cautions":["The medium burns off below 500 C: vent the kiln and the room well, and keep out of the fumes.","Lustre is harmed by a few minutes too many: be at the kiln near the end.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(3,0,74403699528304,1795961426701,0,0,1,3,1,NULL,5968,'{"name":"decal","cone":"017","cone_family":"self-supporting","under_cones":0.7,"over_cones":1.0,"under":"fire_again","over":"lost","usual_length_min":360.0,"cautions":["The medium burns off below 500 C: vent the kiln and the room well, and keep out of the fumes.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(4,0,59749124978926,1795961426701,0,0,1,3,1,NULL,-20113,'{"name":"china paint","cone":"018","cone_family":"self-supporting","under_cones":0.7,"over_cones":1.0,"under":"fire_again","over":"lost","usual_length_min":300.0,"cautions":["The medium burns off below 500 C: vent the kiln and the room well, and keep out of the fumes.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(5,0,113016504167086,1795961426701,0,0,1,3,1,NULL,-20166,'{"name":"earthenware bisque","cone":"04","cone_family":"self-supporting","under_cones":1.0,"over_cones":1.0,"under":"fire_again","over":"lost","usual_length_min":600.0,"cautions":["Ware that is not bone dry bursts near 100 C: hold it below until it is dry.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(6,0,95334988725758,1795961426701,0,0,1,3,1,NULL,-13630,'{"name":"earthenware glaze","cone":"06","cone_family":"self-supporting","under_cones":0.7,"over_cones":1.0,"under":"fire_again","over":"lost","usual_length_min":480.0,"cautions":["Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(7,0,95777999835776,1795961426701,0,0,1,3,1,NULL,-20642,'{"name":"stoneware bisque","cone":"06","cone_family":"self-supporting","under_cones":1.0,"over_cones":2.0,"under":"fire_again","over":"lost","usual_length_min":600.0,"cautions":["Ware that is not bone dry bursts near 100 C: hold it below until it is dry.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(8,0,112334346357510,1795961426701,0,0,1,3,1,NULL,27052,'{"name":"stoneware glaze","cone":"6","cone_family":"self-supporting","under_cones":0.7,"over_cones":1.0,"under":"fire_again","over":"lost","usual_length_min":540.0,"cautions":["Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(9,0,47090269263768,1795961426701,0,0,1,3,1,NULL,26945,'{"name":"porcelain glaze","cone":"9","cone_family":"self-supporting","under_cones":0.5,"over_cones":1.0,"under":"fire_again","over":"lost","usual_length_min":660.0,"cautions":["Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(10,0,54009564244564,1795961426701,0,0,1,3,1,NULL,-32290,'{"name":"body test","cone":"1","cone_family":"self-supporting","under_cones":1.0,"over_cones":1.0,"under":"fire_again","over":"fire_again","usual_length_min":540.0,"cautions":["Ware that is not bone dry bursts near 100 C: hold it below until it is dry.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(11,0,58522925869946,1773471600000,22489826701,60,2,2,1,NULL,28699,'{"name":"N\u001b]0;owned\u0007orth","fuel":"gas"}');
INSERT INTO "events" VALUES(12,0,12664592352969,1773471660000,22489766701,60,3,3,1,NULL,-20881,'{"name":"gold\u001b[31m","cone":"018","cone_family":"self-supporting","under_cones":0.5,"over_cones":0.5,"under":"lost","over":"lost","cautions":["hot‮31m"]}');
INSERT INTO "events" VALUES(13,1,117717567189174,1773472200000,22489226701,60,3,4,1,NULL,8026,'{"kiln":"N\u001b]0;owned\u0007orth","load_type":"gold\u001b[31m","contents":"cups\r\nNorth off at 20:00. Event 99.","packed_by":"\u0007Ida","cones_stand":"\u001b[2J"}');
INSERT INTO "events" VALUES(14,1,54574897699600,1773472800000,22488626701,60,3,5,1,NULL,-29602,'{"kiln":"N\u001b]0;owned\u0007orth","load_type":"gold\u001b[31m","cone":"018","cone_family":"self-supporting","schedule":"own\u001b[31m"}');
INSERT INTO "events" VALUES(15,1,51185185976697,1773478800000,22482626701,60,3,1,1,433.7,25111,NULL);
INSERT INTO "events" VALUES(16,1,96392306440525,1773479100000,22482326701,60,3,9,1,NULL,12066,'{"text":"line1\nNorth off at 20:00. Event 99."}');
INSERT INTO "events" VALUES(17,1,125844444266839,1773479400000,22482026701,60,3,8,1,NULL,27732,'{"to":"high North off at 20:00. Event 98."}');
INSERT INTO "events" VALUES(18,1,61395699018341,1773480000000,22481426701,60,3,6,1,NULL,-18751,'{"reason":"\u001b[5m"}');
INSERT INTO "events" VALUES(19,1,61823239330857,1773486000000,22475426701,60,3,7,1,NULL,2178,'{"target":"leaning"}');
INSERT INTO "events" VALUES(20,1,66044094539735,1773487800000,22473626701,60,4,7,1,NULL,-20171,'{"target":"down"}');
INSERT INTO "events" VALUES(21,1,22616235992497,1773487860000,22473566701,60,3,10,1,NULL,20510,'{}');
INSERT INTO "events" VALUES(22,1,59538068110228,1773514800000,22446626701,60,3,13,1,NULL,20919,'{}');
INSERT INTO "events" VALUES(23,1,26413727771039,1773516600000,22444826701,60,3,14,1,NULL,3409,'{"result":"good","note":"=1+131m","shelves":[{"place":"top\u001b[0m","cone":"018","seen":"down"}]}');
CREATE TABLE facts (
    firing       INTEGER PRIMARY KEY,
    version      INTEGER NOT NULL,        -- of the way of digesting
    correction_c REAL NOT NULL,           -- what was added to its readings
    body         TEXT NOT NULL
) STRICT;
CREATE TABLE firings (
    id            INTEGER PRIMARY KEY,
    kiln          TEXT NOT NULL,
    load_type     TEXT NOT NULL,
    cone          TEXT,
    cone_family   TEXT,
    state         TEXT NOT NULL,
    void          INTEGER NOT NULL,       -- 1 when every event that began it was struck
    begun_ms      INTEGER NOT NULL,       -- when it was lit, or until then its first event
    lit_ms        INTEGER,
    seen_down_ms  INTEGER,
    off_ms        INTEGER,                -- off, or given up
    drawn_ms      INTEGER,
    result        TEXT,
    note          TEXT NOT NULL,
    loss          REAL,
    oddities      INTEGER NOT NULL
) STRICT;
INSERT INTO "firings" VALUES(1,'N]0;ownedorth','gold[31m','018','self-supporting','closed',0,1773472800000,1773472800000,1773487800000,1773487860000,1773514800000,'good','=1+131m',NULL,0);
CREATE TABLE kinds (
    id   INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE
) STRICT;
INSERT INTO "kinds" VALUES(1,'reading');
INSERT INTO "kinds" VALUES(2,'kiln');
INSERT INTO "kinds" VALUES(3,'load_type');
INSERT INTO "kinds" VALUES(4,'packed');
INSERT INTO "kinds" VALUES(5,'lit');
INSERT INTO "kinds" VALUES(6,'probe_silent');
INSERT INTO "kinds" VALUES(7,'look');
INSERT INTO "kinds" VALUES(8,'turned');
INSERT INTO "kinds" VALUES(9,'note');
INSERT INTO "kinds" VALUES(10,'off');
INSERT INTO "kinds" VALUES(11,'aborted');
INSERT INTO "kinds" VALUES(12,'resumed');
INSERT INTO "kinds" VALUES(13,'drawn');
INSERT INTO "kinds" VALUES(14,'outcome');
INSERT INTO "kinds" VALUES(15,'acknowledged');
INSERT INTO "kinds" VALUES(16,'shelved');
INSERT INTO "kinds" VALUES(17,'struck');
INSERT INTO "kinds" VALUES(18,'accepted');
INSERT INTO "kinds" VALUES(19,'probe_changed');
INSERT INTO "kinds" VALUES(24,'called');
INSERT INTO "kinds" VALUES(25,'marked');
INSERT INTO "kinds" VALUES(26,'glow');
CREATE TABLE writers (
    id   INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,                   -- person, probe, program
    name TEXT NOT NULL,
    UNIQUE (kind, name)
) STRICT;
INSERT INTO "writers" VALUES(1,'program','');
INSERT INTO "writers" VALUES(2,'person','cIda');
INSERT INTO "writers" VALUES(3,'person','');
INSERT INTO "writers" VALUES(4,'person','Ada0;x');
CREATE UNIQUE INDEX events_of_firing ON events (firing, uid);
CREATE INDEX openings ON events (uid) WHERE kind IN (4, 5);
CREATE INDEX strikes ON events (id) WHERE kind = 17;
CREATE TRIGGER events_are_never_changed BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'events are never changed: strike the event instead'); END;
CREATE TRIGGER events_are_never_deleted BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'events are never deleted: strike the event instead'); END;
CREATE INDEX open_firings ON firings (id) WHERE state <> 'closed' AND void = 0;
CREATE INDEX youngest_firings ON firings (begun_ms);
CREATE TRIGGER facts_hold_until_the_next_event AFTER INSERT ON events WHEN NEW.firing <> 0
BEGIN DELETE FROM facts WHERE firing = NEW.firing; END;
COMMIT;
