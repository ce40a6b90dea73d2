-- severity: noted
-- says: in a complete block design a treatment stands once in a block
-- needs: staging.plots, staging.trials
select p.file, p.sheet, max(p.row_number) as row_number, 'plots' as table_name, 'treatment_code' as column_name, p.trial_id, null as site_id,
  'block ' || p.block || ' has ' || p.treatment_code || ' in plots ' || string_agg(distinct p.plot, ', ' order by p.plot) as found,
  'once per block' as expected, 'compare with the plot plan: two plots may be swapped' as mend
from staging.plots as p inner join staging.trials as t on t.trial_id = p.trial_id
where t.design in ('RCBD', 'split-plot', 'Latin square') and p.treatment_code is not null
group by p.file, p.sheet, p.trial_id, p.block, p.treatment_code
having count(distinct p.plot) > 1
