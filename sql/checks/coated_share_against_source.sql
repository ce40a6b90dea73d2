-- severity: holds the trial
-- says: a coated blend says which share of its N is coated, and an uncoated source has none
-- needs: staging.treatments, reference.n_sources
-- rows of: staging.treatments
-- only where: t.n_source = 'coated blend' or t.coated_n_fraction is not null
select file, sheet, row_number, 'treatments' as table_name, 'coated_n' as column_name, trial_id, null as site_id,
  n_source || case when coated_n_fraction is null then ' without a coated share' else ' with a coated share of ' || coated_n_fraction end || ' (' || treatment_code || ')' as found,
  case n_source when 'coated blend' then 'a share of its N between 0 and 1, such as 0.5' when 'coated urea' then 'a share of 1, or none' else 'a share of 0, or none' end as expected,
  'fill in coated_n_fraction (by N, not by weight) or coated_n_pct, or correct n_source: the premium for coated N rests on it' as mend
from staging.treatments
where case n_source
    when 'coated blend' then coated_n_fraction is null or coated_n_fraction <= 0 or coated_n_fraction >= 1
    when 'coated urea' then coalesce(coated_n_fraction, 1) < 1
    else n_source in (select word from reference.n_sources where word <> 'other') and coalesce(coated_n_fraction, 0) > 0
  end
