import panel58 from '../../config/profiles/panel-58mm.json' with { type: 'json' };
import panel80 from '../../config/profiles/panel-80mm.json' with { type: 'json' };
import receipt58 from '../../config/profiles/receipt-58mm.json' with { type: 'json' };
import receipt80 from '../../config/profiles/receipt-80mm.json' with { type: 'json' };
import usb58 from '../../config/profiles/usb-58mm.json' with { type: 'json' };

/** The classes that come along, by name, as they stand in `config/profiles/`: not checked yet. */
export const builtInProfiles: Readonly<Record<string, unknown>> = {
  'panel-58mm': panel58,
  'panel-80mm': panel80,
  'receipt-58mm': receipt58,
  'receipt-80mm': receipt80,
  'usb-58mm': usb58,
};
