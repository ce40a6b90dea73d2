-- severity: holds the trial
-- says: nitrogen that every plot received is background N; treatment N is told treatment by treatment
-- needs: staging.nitrogen_applications, reference.program
-- rows of: staging.nitrogen_applications
-- only where: t.counts_toward = 'treatment' and upper(t.treatment_code) = 'ALL'
-- The planned rate of a treatment adds up without such a row, so that nobody would see whether it is part of the rates.
select a.file, a.sheet, a.row_number, 'nitrogen_applications' as table_name, 'counts_toward' as column_name, a.trial_id, null as site_id,
  coalesce(units.said_n_rate(a.n_rate_kg_ha, p.display_units), 'N') || ' on all plots, counted toward the treatments' as found,
  'background N on ALL, or treatment N of each treatment' as expected,
  'write background if every plot received it beside its planned rate; if it is part of the planned rates, write a row for each treatment that received it' as mend
from staging.nitrogen_applications as a cross join reference.program as p
where a.counts_toward = 'treatment' and upper(a.treatment_code) = 'ALL'
