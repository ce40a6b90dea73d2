-- severity: holds the trial
-- says: a plot has one weight: its own, or its picks, unless both agree within 1%
-- needs: staging.plots, trials.picked_plots, reference.program
-- rows of: trials.picked_plots
select p.file, p.sheet, p.row_number, 'plots' as table_name, 'harvest_weight' as column_name, p.trial_id, null as site_id,
  units.said_weight(p.harvest_weight_kg, d.display_units) || ' here, ' || units.said_weight(k.harvest_weight_kg, d.display_units) || ' in ' || k.n_picks || case k.n_picks when 1 then ' pick' else ' picks' end as found,
  'one weight' as expected, 'leave the weight empty where picks are delivered' as mend
from staging.plots as p inner join trials.picked_plots as k on k.trial_id = p.trial_id and k.plot = p.plot
cross join reference.program as d
where abs(p.harvest_weight_kg - k.harvest_weight_kg) > 0.01 * k.harvest_weight_kg
