-- The N rate that growers of a crop usually apply, from program.yml; no row where it states none; filled by the pipeline.
create table reference.growers_rates (crop varchar, n_rate_kg_ha double, "source" varchar);
comment on table reference.growers_rates is 'One row per crop with a growers'' rate in program.yml';
