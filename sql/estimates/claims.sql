-- One row per claim of program.yml: what it states, its verdict, what it rests on and what would settle it; filled by the pipeline.
-- stated, estimate, limits and half_width_wanted stand in evidence_unit: kg/ha, ratio, or money per acre.
create table estimates.claims (
  position integer, sentence varchar, printed_in varchar, comparison_id varchar, target varchar, only_in varchar, states varchar,
  stated double, stated_gain double, stated_unit varchar, verdict varchar,
  estimate_id varchar, estimate double, conf_low double, conf_high double, n_site_years integer, n_seasons integer, evidence_unit varchar,
  half_width_wanted double, more_site_years integer, more_seasons integer, settling varchar
);
comment on table estimates.claims is 'One row per claim: what is stated, verdict, evidence, what would settle it';
