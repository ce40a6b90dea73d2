-- severity: noted
-- says: some trial has every arm and every named N rate of a comparison
-- asks: analyst
-- needs: trials.asked_of_no_trial
-- rows of: trials.asked_of_no_trial
select 'program.yml' as file, null as sheet, line as row_number, 'program.yml' as table_name, null as column_name, null as trial_id, null as site_id,
  asked || ': no trial has it' as found, 'treatments that trials of the crop have; their N rates are ' || there as expected,
  'correct it in program.yml if it is mistyped; leave it if its trials are still to come' as mend
from trials.asked_of_no_trial
