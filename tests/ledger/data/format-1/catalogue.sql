BEGIN TRANSACTION;
CREATE TABLE about (
	name TEXT NOT NULL, 
	value TEXT DEFAULT '' NOT NULL, 
	PRIMARY KEY (name)
);
INSERT INTO "about" VALUES('format','1');
INSERT INTO "about" VALUES('contract','b3261898deac34f62536d4206a3fb0443fac06f1712a4afb4e4a9f48e604dd90');
CREATE TABLE fact_glitches (
	press_id TEXT, 
	day TEXT, 
	load_id BIGINT, 
	line BIGINT, 
	time_us BIGINT, 
	counter BIGINT, 
	reason TEXT, 
	added INTEGER NOT NULL, 
	removed INTEGER
);
CREATE TABLE fact_mounts (
	press_id TEXT, 
	day TEXT, 
	mounting_id TEXT, 
	coil_id TEXT, 
	die_id TEXT, 
	mounted_us BIGINT, 
	removed_us BIGINT, 
	start_weighed_kg DOUBLE, 
	end_weighed_kg DOUBLE, 
	pitch_mm DOUBLE, 
	fed BIGINT, 
	finished BIGINT, 
	lost_mm DOUBLE, 
	added INTEGER NOT NULL, 
	removed INTEGER
);
CREATE TABLE fact_pieces (
	press_id TEXT, 
	day TEXT, 
	shift_date TEXT, 
	shift TEXT, 
	hour_us BIGINT, 
	die_id TEXT, 
	part_no TEXT, 
	order_id TEXT, 
	setup BIGINT, 
	out BIGINT, 
	mounting_id TEXT, 
	pieces BIGINT, 
	stroke_from BIGINT, 
	stroke_to BIGINT, 
	entry_from BIGINT, 
	from_us BIGINT, 
	to_us BIGINT, 
	added INTEGER NOT NULL, 
	removed INTEGER
);
CREATE TABLE fact_rejects (
	press_id TEXT, 
	day TEXT, 
	inspection_id TEXT, 
	kind TEXT, 
	cause TEXT, 
	shift_date TEXT, 
	shift TEXT, 
	hour_us BIGINT, 
	die_id TEXT, 
	part_no TEXT, 
	out BIGINT, 
	mounting_id TEXT, 
	setup BIGINT, 
	inspected BIGINT, 
	rejected BIGINT, 
	reworked BIGINT, 
	released BIGINT, 
	spread BIGINT, 
	stroke_from BIGINT, 
	from_us BIGINT, 
	to_us BIGINT, 
	added INTEGER NOT NULL, 
	removed INTEGER
);
CREATE TABLE fact_stops (
	press_id TEXT, 
	day TEXT, 
	stop_id TEXT, 
	die_id TEXT, 
	shift_date TEXT, 
	shift TEXT, 
	from_us BIGINT, 
	to_us BIGINT, 
	reason TEXT, 
	kind TEXT, 
	planned BIGINT, 
	added INTEGER NOT NULL, 
	removed INTEGER
);
CREATE TABLE fact_strokes (
	press_id TEXT, 
	day TEXT, 
	shift_date TEXT, 
	shift TEXT, 
	hour_us BIGINT, 
	die_id TEXT, 
	part_no TEXT, 
	order_id TEXT, 
	setup BIGINT, 
	mounting_id TEXT, 
	strokes BIGINT, 
	fed BIGINT, 
	stroke_from BIGINT, 
	from_us BIGINT, 
	to_us BIGINT, 
	added INTEGER NOT NULL, 
	removed INTEGER
);
CREATE TABLE fact_time (
	press_id TEXT, 
	day TEXT, 
	shift_date TEXT, 
	shift TEXT, 
	hour_us BIGINT, 
	die_id TEXT, 
	part_no TEXT, 
	order_id TEXT, 
	setup BIGINT, 
	planned_us BIGINT, 
	running_us BIGINT, 
	stopped_us BIGINT, 
	extra_us BIGINT, 
	unresolved_us BIGINT, 
	added INTEGER NOT NULL, 
	removed INTEGER
);
CREATE TABLE folds (
	fold_id INTEGER NOT NULL, 
	press_id TEXT DEFAULT '' NOT NULL, 
	day TEXT DEFAULT '' NOT NULL, 
	carry TEXT DEFAULT '' NOT NULL, 
	settled SMALLINT NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (fold_id)
);
CREATE TABLE loads (
	load_id INTEGER NOT NULL, 
	file TEXT DEFAULT '' NOT NULL, 
	"table" TEXT DEFAULT '' NOT NULL, 
	sha256 TEXT DEFAULT '' NOT NULL, 
	size BIGINT DEFAULT '0' NOT NULL, 
	rows BIGINT DEFAULT '0' NOT NULL, 
	outside BIGINT DEFAULT '0' NOT NULL, 
	read BIGINT DEFAULT '0' NOT NULL, 
	new BIGINT DEFAULT '0' NOT NULL, 
	repeated BIGINT DEFAULT '0' NOT NULL, 
	corrected BIGINT DEFAULT '0' NOT NULL, 
	set_aside BIGINT DEFAULT '0' NOT NULL, 
	loaded_at BIGINT DEFAULT '0' NOT NULL, 
	refused TEXT DEFAULT '' NOT NULL, 
	added INTEGER NOT NULL, 
	PRIMARY KEY (load_id)
);
INSERT INTO "loads" VALUES(1,'presses.csv','presses','aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa',10,1,0,1,1,0,0,0,1795615438539556,'',1);
INSERT INTO "loads" VALUES(2,'strokes-1.csv','strokes','bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb',10,4,0,4,3,0,0,1,1795615438600830,'',1);
INSERT INTO "loads" VALUES(3,'strokes-2.csv','strokes','cccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccc',10,2,0,2,1,0,1,0,1795615438671484,'',2);
INSERT INTO "loads" VALUES(4,'strokes-3.csv','strokes','dddddddddddddddddddddddddddddddddddddddddddddddddddddddddddddddd',10,0,0,0,0,0,0,0,1795615438699481,'cut short',2);
CREATE TABLE plants (
	plant_id INTEGER NOT NULL, 
	text TEXT DEFAULT '' NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (plant_id)
);
INSERT INTO "plants" VALUES(1,'
timezone = "Europe/Berlin"
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
[[shift]]
name = "late"
start = "14:00"
end = "22:00"
[[shift]]
name = "night"
start = "22:00"
end = "06:00"
',1,NULL);
CREATE TABLE rows_causes (
	row_id INTEGER NOT NULL, 
	cause TEXT, 
	name TEXT, 
	operations TEXT, 
	origin TEXT, 
	valid_from TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_characteristics (
	row_id INTEGER NOT NULL, 
	part_no TEXT, 
	characteristic TEXT, 
	nominal DOUBLE, 
	lower DOUBLE, 
	upper DOUBLE, 
	unit TEXT, 
	"key" SMALLINT, 
	valid_from TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_coil_changes (
	row_id INTEGER NOT NULL, 
	time BIGINT, 
	press_id TEXT, 
	event TEXT, 
	coil_id TEXT, 
	weight_kg DOUBLE, 
	lost_m DOUBLE, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_coil_tests (
	row_id INTEGER NOT NULL, 
	coil_id TEXT, 
	property TEXT, 
	value DOUBLE, 
	unit TEXT, 
	source TEXT, 
	position_m DOUBLE, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_coils (
	row_id INTEGER NOT NULL, 
	coil_id TEXT, 
	lot TEXT, 
	material TEXT, 
	width_mm DOUBLE, 
	thickness_mm DOUBLE, 
	weight_kg DOUBLE, 
	heat TEXT, 
	supplier TEXT, 
	received_at BIGINT, 
	yield_mpa DOUBLE, 
	tensile_mpa DOUBLE, 
	elongation_pct DOUBLE, 
	hardness_hv DOUBLE, 
	cert_no TEXT, 
	cert_type TEXT, 
	mother_coil TEXT, 
	slit_position TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_complaints (
	row_id INTEGER NOT NULL, 
	complaint_id TEXT, 
	reported_at BIGINT, 
	customer TEXT, 
	part_no TEXT, 
	pieces BIGINT, 
	container_id TEXT, 
	shipment_id TEXT, 
	cause TEXT, 
	accepted TEXT, 
	closed_at BIGINT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_containers (
	row_id INTEGER NOT NULL, 
	container_id TEXT, 
	part_no TEXT, 
	press_id TEXT, 
	opened_at BIGINT, 
	closed_at BIGINT, 
	quantity BIGINT, 
	out BIGINT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_die_changes (
	row_id INTEGER NOT NULL, 
	time BIGINT, 
	press_id TEXT, 
	event TEXT, 
	die_id TEXT, 
	part_no TEXT, 
	order_id TEXT, 
	outs_running TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_die_service (
	row_id INTEGER NOT NULL, 
	time BIGINT, 
	die_id TEXT, 
	work TEXT, 
	station BIGINT, 
	removed_mm DOUBLE, 
	die_strokes BIGINT, 
	note TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_dies (
	row_id INTEGER NOT NULL, 
	die_id TEXT, 
	pitch_mm DOUBLE, 
	parts_per_stroke BIGINT, 
	rated_spm DOUBLE, 
	name TEXT, 
	strip_width_mm DOUBLE, 
	sharpen_every_strokes BIGINT, 
	valid_from TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_dispositions (
	row_id INTEGER NOT NULL, 
	disposition_id TEXT, 
	inspection_id TEXT, 
	time BIGINT, 
	outcome TEXT, 
	pieces BIGINT, 
	cause TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_holds (
	row_id INTEGER NOT NULL, 
	hold_id TEXT, 
	placed_at BIGINT, 
	scope TEXT, 
	value TEXT, 
	reason TEXT, 
	lifted_at BIGINT, 
	"from" BIGINT, 
	"to" BIGINT, 
	outcome TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_inspections (
	row_id INTEGER NOT NULL, 
	inspection_id TEXT, 
	time BIGINT, 
	press_id TEXT, 
	kind TEXT, 
	rejected BIGINT, 
	inspected BIGINT, 
	cause TEXT, 
	container_id TEXT, 
	part_no TEXT, 
	out BIGINT, 
	made_from BIGINT, 
	made_to BIGINT, 
	rechecks TEXT, 
	scope TEXT, 
	used_up BIGINT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_materials (
	row_id INTEGER NOT NULL, 
	material TEXT, 
	density_kg_m3 DOUBLE, 
	valid_from TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_orders (
	row_id INTEGER NOT NULL, 
	order_id TEXT, 
	part_no TEXT, 
	quantity BIGINT, 
	press_id TEXT, 
	start_at BIGINT, 
	due_at BIGINT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_outs (
	row_id INTEGER NOT NULL, 
	die_id TEXT, 
	out BIGINT, 
	part_no TEXT, 
	station BIGINT, 
	valid_from TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_parts (
	row_id INTEGER NOT NULL, 
	part_no TEXT, 
	net_weight_g DOUBLE, 
	name TEXT, 
	customer TEXT, 
	material TEXT, 
	thickness_mm DOUBLE, 
	revision TEXT, 
	valid_from TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_presses (
	row_id INTEGER NOT NULL, 
	press_id TEXT, 
	name TEXT, 
	area TEXT, 
	rated_spm DOUBLE, 
	rated_force_kn DOUBLE, 
	counter_modulus BIGINT, 
	lead_in_mm DOUBLE, 
	stop_after_s DOUBLE, 
	valid_from TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
INSERT INTO "rows_presses" VALUES(1,'P01','First',NULL,60.0,NULL,NULL,NULL,NULL,NULL,NULL,'["P01",null]',2,1,1,NULL);
CREATE TABLE rows_reasons (
	row_id INTEGER NOT NULL, 
	reason TEXT, 
	kind TEXT, 
	name TEXT, 
	in_planned_time SMALLINT, 
	valid_from TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_reels (
	row_id INTEGER NOT NULL, 
	reel_id TEXT, 
	press_id TEXT, 
	started_at BIGINT, 
	ended_at BIGINT, 
	rewinds BIGINT, 
	from_reel TEXT, 
	from_m DOUBLE, 
	to_m DOUBLE, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_repacks (
	row_id INTEGER NOT NULL, 
	time BIGINT, 
	from_container TEXT, 
	to_container TEXT, 
	quantity BIGINT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_routes (
	row_id INTEGER NOT NULL, 
	part_no TEXT, 
	step BIGINT, 
	die_id TEXT, 
	valid_from TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_shipments (
	row_id INTEGER NOT NULL, 
	shipment_id TEXT, 
	container_id TEXT, 
	shipped_at BIGINT, 
	customer TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_stations (
	row_id INTEGER NOT NULL, 
	die_id TEXT, 
	station BIGINT, 
	operation TEXT, 
	clearance_pct DOUBLE, 
	grind_life_mm DOUBLE, 
	note TEXT, 
	valid_from TEXT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE rows_stops (
	row_id INTEGER NOT NULL, 
	press_id TEXT, 
	start_at BIGINT, 
	reason TEXT, 
	end_at BIGINT, 
	recorded_at BIGINT, 
	row_key TEXT NOT NULL, 
	line BIGINT NOT NULL, 
	load_id INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (row_id)
);
CREATE TABLE set_aside (
	id INTEGER NOT NULL, 
	load_id INTEGER NOT NULL, 
	"table" TEXT DEFAULT '' NOT NULL, 
	file TEXT DEFAULT '' NOT NULL, 
	line BIGINT DEFAULT '0' NOT NULL, 
	reason TEXT DEFAULT '' NOT NULL, 
	"row" TEXT DEFAULT '' NOT NULL, 
	waits_for TEXT DEFAULT '' NOT NULL, 
	set_aside_at BIGINT DEFAULT '0' NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (id)
);
INSERT INTO "set_aside" VALUES(1,2,'strokes','strokes-1.csv',5,'press_id is ''P09'', expected a press of the plant book','{"press_id": "P09", "time": "2026-11-02T06:00:00", "counter": "7"}','presses:P09',1795615438641853,1,NULL);
CREATE TABLE stored_parts (
	part_id INTEGER NOT NULL, 
	"table" TEXT DEFAULT '' NOT NULL, 
	file TEXT DEFAULT '' NOT NULL, 
	row_group BIGINT DEFAULT '0' NOT NULL, 
	press_id TEXT DEFAULT '' NOT NULL, 
	day TEXT DEFAULT '' NOT NULL, 
	rows BIGINT DEFAULT '0' NOT NULL, 
	min_us BIGINT DEFAULT '0' NOT NULL, 
	max_us BIGINT DEFAULT '0' NOT NULL, 
	added INTEGER NOT NULL, 
	removed INTEGER, 
	PRIMARY KEY (part_id)
);
INSERT INTO "stored_parts" VALUES(1,'strokes','parts/00000001-000000.parquet',0,'P01','2026-11-02',3,1793595600000000,1793595620000000,1,2);
INSERT INTO "stored_parts" VALUES(2,'strokes','parts/00000002-000000.parquet',0,'P01','2026-11-02',2,1793595600000000,1793595620000000,2,NULL);
INSERT INTO "stored_parts" VALUES(3,'strokes','parts/00000002-000000.parquet',1,'P01','2026-11-02',2,1793595610000000,1793595630000000,2,NULL);
CREATE TABLE versions (
	version INTEGER NOT NULL, 
	committed_at BIGINT DEFAULT '0' NOT NULL, 
	PRIMARY KEY (version)
);
INSERT INTO "versions" VALUES(1,1795615438661809);
INSERT INTO "versions" VALUES(2,1795615438730483);
CREATE UNIQUE INDEX loads_once ON loads (sha256) WHERE refused = '';
CREATE INDEX set_aside_waits ON set_aside (waits_for);
CREATE INDEX stored_parts_when ON stored_parts ("table", press_id, max_us);
CREATE INDEX folds_when ON folds (press_id, day);
CREATE INDEX rows_presses_key ON rows_presses (row_key);
CREATE INDEX rows_dies_key ON rows_dies (row_key);
CREATE INDEX rows_dies_die_id ON rows_dies (die_id);
CREATE INDEX rows_parts_key ON rows_parts (row_key);
CREATE INDEX rows_parts_part_no ON rows_parts (part_no);
CREATE INDEX rows_materials_material ON rows_materials (material);
CREATE INDEX rows_materials_key ON rows_materials (row_key);
CREATE INDEX rows_causes_key ON rows_causes (row_key);
CREATE INDEX rows_causes_cause ON rows_causes (cause);
CREATE INDEX rows_reasons_reason ON rows_reasons (reason);
CREATE INDEX rows_reasons_key ON rows_reasons (row_key);
CREATE INDEX rows_stations_die_id ON rows_stations (die_id);
CREATE INDEX rows_stations_key ON rows_stations (row_key);
CREATE INDEX rows_outs_key ON rows_outs (row_key);
CREATE INDEX rows_outs_die_id ON rows_outs (die_id);
CREATE INDEX rows_routes_key ON rows_routes (row_key);
CREATE INDEX rows_routes_part_no ON rows_routes (part_no);
CREATE INDEX rows_characteristics_part_no ON rows_characteristics (part_no);
CREATE INDEX rows_characteristics_key ON rows_characteristics (row_key);
CREATE INDEX rows_coils_when ON rows_coils (received_at);
CREATE INDEX rows_coils_heat ON rows_coils (heat);
CREATE INDEX rows_coils_coil_id ON rows_coils (coil_id);
CREATE INDEX rows_coils_lot ON rows_coils (lot);
CREATE INDEX rows_coils_key ON rows_coils (row_key);
CREATE INDEX rows_coil_tests_coil_id ON rows_coil_tests (coil_id);
CREATE INDEX rows_coil_tests_key ON rows_coil_tests (row_key);
CREATE INDEX rows_reels_key ON rows_reels (row_key);
CREATE INDEX rows_reels_reel_id ON rows_reels (reel_id);
CREATE INDEX rows_reels_when ON rows_reels (press_id, started_at);
CREATE INDEX rows_reels_from_reel ON rows_reels (from_reel);
CREATE INDEX rows_orders_key ON rows_orders (row_key);
CREATE INDEX rows_orders_order_id ON rows_orders (order_id);
CREATE INDEX rows_orders_when ON rows_orders (press_id, start_at);
CREATE INDEX rows_die_changes_when ON rows_die_changes (press_id, time);
CREATE INDEX rows_die_changes_key ON rows_die_changes (row_key);
CREATE INDEX rows_die_changes_order_id ON rows_die_changes (order_id);
CREATE INDEX rows_coil_changes_key ON rows_coil_changes (row_key);
CREATE INDEX rows_coil_changes_coil_id ON rows_coil_changes (coil_id);
CREATE INDEX rows_coil_changes_when ON rows_coil_changes (press_id, time);
CREATE INDEX rows_die_service_when ON rows_die_service (time);
CREATE INDEX rows_die_service_die_id ON rows_die_service (die_id);
CREATE INDEX rows_die_service_key ON rows_die_service (row_key);
CREATE INDEX rows_stops_when ON rows_stops (press_id, start_at);
CREATE INDEX rows_stops_key ON rows_stops (row_key);
CREATE INDEX rows_containers_container_id ON rows_containers (container_id);
CREATE INDEX rows_containers_key ON rows_containers (row_key);
CREATE INDEX rows_containers_when ON rows_containers (press_id, opened_at);
CREATE INDEX rows_inspections_key ON rows_inspections (row_key);
CREATE INDEX rows_inspections_rechecks ON rows_inspections (rechecks);
CREATE INDEX rows_inspections_container_id ON rows_inspections (container_id);
CREATE INDEX rows_inspections_inspection_id ON rows_inspections (inspection_id);
CREATE INDEX rows_inspections_when ON rows_inspections (press_id, time);
CREATE INDEX rows_dispositions_when ON rows_dispositions (time);
CREATE INDEX rows_dispositions_inspection_id ON rows_dispositions (inspection_id);
CREATE INDEX rows_dispositions_key ON rows_dispositions (row_key);
CREATE INDEX rows_dispositions_disposition_id ON rows_dispositions (disposition_id);
CREATE INDEX rows_repacks_to_container ON rows_repacks (to_container);
CREATE INDEX rows_repacks_key ON rows_repacks (row_key);
CREATE INDEX rows_repacks_from_container ON rows_repacks (from_container);
CREATE INDEX rows_repacks_when ON rows_repacks (time);
CREATE INDEX rows_shipments_container_id ON rows_shipments (container_id);
CREATE INDEX rows_shipments_when ON rows_shipments (shipped_at);
CREATE INDEX rows_shipments_key ON rows_shipments (row_key);
CREATE INDEX rows_shipments_shipment_id ON rows_shipments (shipment_id);
CREATE INDEX rows_complaints_when ON rows_complaints (reported_at);
CREATE INDEX rows_complaints_complaint_id ON rows_complaints (complaint_id);
CREATE INDEX rows_complaints_shipment_id ON rows_complaints (shipment_id);
CREATE INDEX rows_complaints_container_id ON rows_complaints (container_id);
CREATE INDEX rows_complaints_key ON rows_complaints (row_key);
CREATE INDEX rows_holds_hold_id ON rows_holds (hold_id);
CREATE INDEX rows_holds_when ON rows_holds (placed_at);
CREATE INDEX rows_holds_key ON rows_holds (row_key);
CREATE INDEX fact_time_fold ON fact_time (press_id, day);
CREATE INDEX fact_time_when ON fact_time (shift_date);
CREATE INDEX fact_strokes_mounting_id ON fact_strokes (mounting_id);
CREATE INDEX fact_strokes_fold ON fact_strokes (press_id, day);
CREATE INDEX fact_strokes_made ON fact_strokes (press_id, from_us);
CREATE INDEX fact_strokes_when ON fact_strokes (shift_date);
CREATE INDEX fact_pieces_mounting_id ON fact_pieces (mounting_id);
CREATE INDEX fact_pieces_when ON fact_pieces (shift_date);
CREATE INDEX fact_pieces_made ON fact_pieces (press_id, from_us);
CREATE INDEX fact_pieces_fold ON fact_pieces (press_id, day);
CREATE INDEX fact_stops_when ON fact_stops (shift_date);
CREATE INDEX fact_stops_fold ON fact_stops (press_id, day);
CREATE INDEX fact_mounts_fold ON fact_mounts (press_id, day);
CREATE INDEX fact_mounts_mounting_id ON fact_mounts (mounting_id);
CREATE INDEX fact_mounts_coil_id ON fact_mounts (coil_id);
CREATE INDEX fact_rejects_mounting_id ON fact_rejects (mounting_id);
CREATE INDEX fact_rejects_made ON fact_rejects (press_id, from_us);
CREATE INDEX fact_rejects_when ON fact_rejects (shift_date);
CREATE INDEX fact_rejects_fold ON fact_rejects (press_id, day);
CREATE INDEX fact_glitches_fold ON fact_glitches (press_id, day);
COMMIT;
