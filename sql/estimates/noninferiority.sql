-- One row per comparison with a margin and target: the test against the margin (kg/ha, or ratio); filled by the pipeline.
create table estimates.noninferiority (
  estimate_id varchar primary key, comparison_id varchar, target varchar, method varchar, scale varchar, estimate double, std_error double, df double,
  n_site_years integer, n_seasons integer, margin double, margin_limit double, margin_basis varchar, margin_fixed_on date, margin_is_late boolean,
  alpha double, lower_limit double, upper_limit double, p_noninferior double, p_superior double, tost_alpha double, tost_low double,
  tost_high double, p_tost double, is_equivalent boolean, verdict varchar, reason varchar, assay_sensitivity varchar,
  assay_reason varchar, assay_estimate double, assay_std_error double, assay_df double, assay_low double, assay_n_site_years integer,
  economic_margin_kg_ha double, economic_says varchar
);
comment on table estimates.noninferiority is 'One row per non-inferiority test';
