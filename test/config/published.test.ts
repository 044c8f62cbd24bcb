import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { boardSchema } from '../../src/config/board.ts';
import { inspectConfig } from '../../src/config/load.ts';
import { looksPage } from '../../src/config/looks-page.ts';
import { profileSchema } from '../../src/config/profile.ts';
import { sampleText, schemaText } from '../../src/config/sample.ts';
import { configSchema, defaultConfig } from '../../src/config/schema.ts';

const folder = new URL('../../config/', import.meta.url).pathname;
const file = (name: string) => `${folder}${name}`;

// After a change of a schema: npx vitest run --config test/vitest.config.ts test/config/published.test.ts -u
describe('published files are those of the schemas', () => {
  it('JSON Schema of the configuration', async () => {
    await expect(schemaText(configSchema, 'Configuration of slipshutter')).toMatchFileSnapshot(
      file('slipshutter.schema.json'),
    );
  });

  it('JSON Schema of a printer profile', async () => {
    await expect(schemaText(profileSchema, 'Printer profile of slipshutter')).toMatchFileSnapshot(
      file('profile.schema.json'),
    );
  });

  it('JSON Schema of a board’s description', async () => {
    await expect(schemaText(boardSchema, 'A board, as slipshutter check sees it')).toMatchFileSnapshot(
      file('board.schema.json'),
    );
  });

  it('the page about looks', async () => {
    await expect(looksPage()).toMatchFileSnapshot(file('looks.md'));
  });

  it('the example configuration: every setting, at its default', async () => {
    await expect(sampleText(configSchema, './slipshutter.schema.json')).toMatchFileSnapshot(file('slipshutter.json'));
    const { value } = inspectConfig(readFileSync(file('slipshutter.json'), 'utf8'));
    expect(value).toEqual({ ...defaultConfig(), $schema: './slipshutter.schema.json' });
  });
});
