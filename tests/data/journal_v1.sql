PRAGMA foreign_keys=OFF;
PRAGMA application_id=1399880040;
PRAGMA user_version=1;
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
INSERT INTO "events" VALUES(1,0,120071266695831,1773469800000,0,0,1,3,1,NULL,-26969,'{"name":"gold","cone":"018","cone_family":"self-supporting","under_cones":0.5,"over_cones":0.5,"under":"fire_again","over":"lost","usual_length_min":300.0,"cautions":["The medium burns off below 500 C: vent the kiln and the room well, and keep out of the fumes.","Over-fired gold discolours and lifts, and nothing brings it back: be at the kiln near the end.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(2,0,100704317193345,1773469800000,0,0,1,3,1,NULL,-32001,'{"name":"lustre","cone":"019","cone_family":"self-supporting","under_cones":0.5,"over_cones":0.5,"under":"fire_again","over":"lost","usual_length_min":300.0,"cautions":["The medium burns off below 500 C: vent the kiln and the room well, and keep out of the fumes.","Lustre is harmed by a few minutes too many: be at the kiln near the end.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(3,0,74403699528304,1773469800000,0,0,1,3,1,NULL,15735,'{"name":"decal","cone":"017","cone_family":"self-supporting","under_cones":0.7,"over_cones":1.0,"under":"fire_again","over":"lost","usual_length_min":360.0,"cautions":["The medium burns off below 500 C: vent the kiln and the room well, and keep out of the fumes.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(4,0,59749124978926,1773469800000,0,0,1,3,1,NULL,27156,'{"name":"china paint","cone":"018","cone_family":"self-supporting","under_cones":0.7,"over_cones":1.0,"under":"fire_again","over":"lost","usual_length_min":300.0,"cautions":["The medium burns off below 500 C: vent the kiln and the room well, and keep out of the fumes.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(5,0,113016504167086,1773469800000,0,0,1,3,1,NULL,-28595,'{"name":"earthenware bisque","cone":"04","cone_family":"self-supporting","under_cones":1.0,"over_cones":1.0,"under":"fire_again","over":"lost","usual_length_min":600.0,"cautions":["Ware that is not bone dry bursts near 100 C: hold it below until it is dry.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(6,0,95334988725758,1773469800000,0,0,1,3,1,NULL,31407,'{"name":"earthenware glaze","cone":"06","cone_family":"self-supporting","under_cones":0.7,"over_cones":1.0,"under":"fire_again","over":"lost","usual_length_min":480.0,"cautions":["Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(7,0,95777999835776,1773469800000,0,0,1,3,1,NULL,3712,'{"name":"stoneware bisque","cone":"06","cone_family":"self-supporting","under_cones":1.0,"over_cones":2.0,"under":"fire_again","over":"lost","usual_length_min":600.0,"cautions":["Ware that is not bone dry bursts near 100 C: hold it below until it is dry.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(8,0,112334346357510,1773469800000,0,0,1,3,1,NULL,23600,'{"name":"stoneware glaze","cone":"6","cone_family":"self-supporting","under_cones":0.7,"over_cones":1.0,"under":"fire_again","over":"lost","usual_length_min":540.0,"cautions":["Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(9,0,47090269263768,1773469800000,0,0,1,3,1,NULL,11108,'{"name":"porcelain glaze","cone":"9","cone_family":"self-supporting","under_cones":0.5,"over_cones":1.0,"under":"fire_again","over":"lost","usual_length_min":660.0,"cautions":["Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(10,0,54009564244564,1773469800000,0,0,1,3,1,NULL,-11348,'{"name":"body test","cone":"1","cone_family":"self-supporting","under_cones":1.0,"over_cones":1.0,"under":"fire_again","over":"fire_again","usual_length_min":540.0,"cautions":["Ware that is not bone dry bursts near 100 C: hold it below until it is dry.","Wear shaded glasses at the spyhole: the glow hurts the eyes.","Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it."]}');
INSERT INTO "events" VALUES(11,0,50375185376417,1773470400000,0,60,2,2,1,NULL,22670,'{"name":"North","fuel":"gas","litres":250.0}');
INSERT INTO "events" VALUES(12,0,56100448851323,1773470400000,0,60,2,2,1,NULL,-18003,'{"name":"South","fuel":"gas","litres":250.0}');
INSERT INTO "events" VALUES(13,1,83622715693400,1773474000000,0,60,2,4,1,NULL,-27671,'{"kiln":"North","load_type":"gold","contents":"rims of forty cups","pieces":40,"worth":350.0,"packed_by":"Ida","cones_stand":"middle shelf, left","cone":"018","guide":"019","guard":"017","cone_family":"self-supporting"}');
INSERT INTO "events" VALUES(14,1,139470853295490,1773475800000,0,60,2,5,1,NULL,-740,'{"kiln":"North","load_type":"gold","cone":"018","guide":"019","guard":"017","cone_family":"self-supporting"}');
INSERT INTO "events" VALUES(15,1,59009638991155,1773479400000,0,60,2,1,1,433.7,17085,NULL);
INSERT INTO "events" VALUES(16,1,455827969239,1773487800000,0,60,2,7,1,NULL,14696,'{"target":"down"}');
INSERT INTO "events" VALUES(17,1,30135259827788,1773487860000,0,60,2,17,1,NULL,28264,'{"struck":16,"reason":"a slip"}');
INSERT INTO "events" VALUES(18,1,68289766187702,1773488400000,0,60,2,7,1,NULL,3812,'{"target":"down"}');
INSERT INTO "events" VALUES(19,1,82918084448682,1773488520000,0,60,2,10,1,NULL,28402,'{}');
INSERT INTO "events" VALUES(20,1,111980648277522,1773523800000,0,60,2,13,1,NULL,17500,'{}');
INSERT INTO "events" VALUES(21,1,3420860252628,1773524400000,0,60,2,14,1,NULL,10838,'{"result":"good","note":"bright"}');
INSERT INTO "events" VALUES(22,2,128062471420947,1773526800000,0,60,2,5,1,NULL,-4546,'{"kiln":"South","load_type":"gold","cone":"018","guide":"019","guard":"017","cone_family":"self-supporting"}');
INSERT INTO "events" VALUES(23,2,31314496331883,1773527400000,0,60,2,1,1,51.5,-631,NULL);
INSERT INTO "events" VALUES(24,2,139738375014602,1773527460000,0,60,2,8,1,NULL,23326,'{"to":"half open"}');
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
INSERT INTO "firings" VALUES(1,'North','gold','018','self-supporting','closed',0,1773475800000,1773475800000,1773488400000,1773488520000,1773523800000,'good','bright',NULL,0);
INSERT INTO "firings" VALUES(2,'South','gold','018','self-supporting','lit',0,1773526800000,1773526800000,NULL,NULL,NULL,NULL,'',NULL,0);
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
CREATE TABLE writers (
    id   INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,                   -- person, probe, program
    name TEXT NOT NULL,
    UNIQUE (kind, name)
) STRICT;
INSERT INTO "writers" VALUES(1,'program','');
INSERT INTO "writers" VALUES(2,'person','Ida');
CREATE UNIQUE INDEX events_of_firing ON events (firing, uid);
CREATE INDEX openings ON events (uid) WHERE kind IN (4, 5);
CREATE INDEX strikes ON events (id) WHERE kind = 17;
CREATE TRIGGER events_are_never_changed BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'events are never changed: strike the event instead'); END;
CREATE TRIGGER events_are_never_deleted BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'events are never deleted: strike the event instead'); END;
CREATE INDEX open_firings ON firings (id) WHERE state <> 'closed' AND void = 0;
CREATE INDEX youngest_firings ON firings (begun_ms);
COMMIT;
