/** Where the service has its configuration. */
export const boardConfigPath = '/etc/slipshutter/slipshutter.json';
