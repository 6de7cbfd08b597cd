BEGIN TRANSACTION;
CREATE TABLE events (
    id INTEGER PRIMARY KEY, firing INTEGER, now_s REAL, utc_s REAL, kind TEXT, cause TEXT, happened TEXT, did TEXT,
    do_next TEXT, value REAL, value_limit REAL, unit TEXT);
INSERT INTO "events" VALUES(1,1,9.5,1900000009.5,'state','climbing','From warm-up to climbing.','','',NULL,NULL,NULL);
CREATE TABLE firings (
    id INTEGER PRIMARY KEY, begun_utc_s REAL, plan_name TEXT, plan TEXT, rig TEXT, settings TEXT);
INSERT INTO "firings" VALUES(1,1900000000.0,'Low','text','fake','{}');
CREATE TABLE readings (
    firing INTEGER, now_s REAL, utc_s REAL, state TEXT, stage INTEGER, aim_c REAL, chamber_c REAL, flue_c REAL, limit_c REAL, feed_tube_c REAL, draught_pa REAL, airflow INTEGER, flame INTEGER, shaft INTEGER, feed_frac REAL, ff_frac REAL, p_frac REAL, i_frac REAL, d_frac REAL, limited_by TEXT, auger_s REAL, fan_frac REAL, damper_frac REAL, pellets_kg REAL, blind TEXT, unproven_kg REAL, draught_aim_pa REAL, burns_kg_per_h REAL, air_kg_per_h REAL, air_ratio REAL, wanted_air_ratio REAL, oxygen_air_ratio REAL, air_aside_frac REAL, taught_factor REAL, air_spread_frac REAL, mass_kg_per_k REAL, walls_kg_per_h REAL, load_kg_per_h REAL, work_owed_s REAL, PRIMARY KEY (firing, now_s)) WITHOUT ROWID;
INSERT INTO "readings" VALUES(1,10.0,1900000010.0,'climbing',1,801.5,799.25,NULL,NULL,NULL,NULL,1,NULL,NULL,0.25,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,1.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,1.1,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "readings" VALUES(1,11.0,1900000011.0,'climbing',1,801.5,800.25,NULL,NULL,NULL,NULL,1,NULL,NULL,0.25,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,1.01,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,1.1,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "readings" VALUES(1,12.0,1900000012.0,'climbing',1,801.5,801.25,NULL,NULL,NULL,NULL,1,NULL,NULL,0.25,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,1.02,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,1.1,NULL,NULL,NULL,NULL,NULL);
COMMIT;
