-- severity: noted
-- says: in a complete block design a treatment stands once in a block; zero-N in a split-plot once in a main plot
-- needs: staging.plots, staging.trials, staging.treatments
with standing as (
  select p.file, p.sheet, p.row_number, p.trial_id, p.block, p.treatment_code, p.plot,
    case when t.design = 'split-plot' and z.trial_id is not null then coalesce(p.main_plot, '') else '' end as within
  from staging.plots as p inner join staging.trials as t on t.trial_id = p.trial_id
  left join (select distinct trial_id, treatment_code from staging.treatments where is_zero_n or n_rate_kg_ha = 0) as z
    on z.trial_id = p.trial_id and z.treatment_code = p.treatment_code
  where t.design in ('RCBD', 'split-plot', 'Latin square') and p.treatment_code is not null and p.block is not null
),
twice as (
  select file, coalesce(sheet, '') as sheet, trial_id, block, treatment_code, within from standing
  group by file, coalesce(sheet, ''), trial_id, block, treatment_code, within having min(plot) <> max(plot)
)
select s.file, s.sheet, max(s.row_number) as row_number, 'plots' as table_name, 'treatment_code' as column_name, s.trial_id, null as site_id,
  s.treatment_code || ' in plots ' || string_agg(distinct s.plot, ', ' order by s.plot) || ' of block ' || s.block as found,
  'it once per block' as expected, 'compare with the plot plan: two plots may be swapped' as mend
from standing as s
inner join twice as w
  on w.file = s.file and w.sheet = coalesce(s.sheet, '') and w.trial_id = s.trial_id and w.block = s.block and w.treatment_code = s.treatment_code
  and w.within = s.within
group by s.file, s.sheet, s.trial_id, s.block, s.treatment_code, s.within
